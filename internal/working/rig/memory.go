package rig

import (
	"os"
	"runtime"
	"strconv"
	"strings"
)

// Free returns the bytes of memory that are free for use, 0 where the system does
// not say (it is asked by /proc/meminfo, proc(5)).
func Free() int64 {
	b, err := os.ReadFile("/proc/meminfo")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(b)) {
		f := strings.Fields(line)
		if len(f) == 3 && f[0] == "MemAvailable:" && f[2] == "kB" {
			n, err := strconv.ParseInt(f[1], 10, 64)
			if err != nil {
				return 0
			}
			return n << 10
		}
	}
	return 0
}

// cores is how many pours are computed side by side.
func cores() int { return runtime.GOMAXPROCS(0) }
