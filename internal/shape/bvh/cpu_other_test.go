//go:build !unix

package bvh

func cpuSeconds() float64 { return 0 }
