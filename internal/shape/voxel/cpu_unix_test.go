//go:build unix

package voxel

import "syscall"

// cpuSeconds returns the processor time of this process so far: steadier than
// the clock where other work shares the cores.
func cpuSeconds() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + 1e-6*float64(u.Utime.Usec+u.Stime.Usec)
}
