package sequence

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"runtime/metrics"
	"syscall"
	"testing"
	"time"
)

// BenchmarkMaster inspects each file of the mesh set, as the verb master does,
// also those that are refused. Beside the clock it reports the processor's
// seconds, which other work on the machine changes less, and the most bytes of
// objects that the heap held, looked at every millisecond.
func BenchmarkMaster(b *testing.B) {
	dir, names, _ := meshSet(b)
	for _, name := range names {
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			b.Fatal(err)
		}
		b.Run(name, func(b *testing.B) {
			runtime.GC()
			top := watchHeap()
			used, n := processor(b), 0.0
			for b.Loop() {
				Inspect(context.Background(), Look{Source: Source{Path: name, Data: data}}, nil)
				n++
			}
			b.ReportMetric((processor(b)-used)/n, "cpu-s")
			b.ReportMetric(float64(top())/(1<<20), "peak-MB")
		})
	}
}

// processor returns the seconds that the process has computed for so far.
func processor(b *testing.B) float64 {
	var use syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &use); err != nil {
		b.Fatal(err)
	}
	return time.Duration(use.Utime.Nano() + use.Stime.Nano()).Seconds()
}

// watchHeap looks at the size of the heap until its answer is called, which
// returns the most that it saw.
func watchHeap() func() uint64 {
	stop, most := make(chan struct{}), make(chan uint64)
	go func() {
		s := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
		tick := time.NewTicker(time.Millisecond)
		defer tick.Stop()
		top := uint64(0)
		for {
			metrics.Read(s)
			top = max(top, s[0].Value.Uint64())
			select {
			case <-stop:
				most <- top
				return
			case <-tick.C:
			}
		}
	}()
	return func() uint64 {
		close(stop)
		return <-most
	}
}
