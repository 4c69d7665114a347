//go:build !unix

package voxel

func cpuSeconds() float64 { return 0 }
