//go:build !amd64 || plain

package heat

func fastest() *kernel { return &plain }
