package rig

import "fmt"

func sprint(format string, args ...any) string { return fmt.Sprintf(format, args...) }

// bytesOf writes a number of bytes for a person.
func bytesOf(n int64) string {
	if n < 1<<30 {
		return sprint("%d MB", (n+1<<19)>>20)
	}
	return sprint("%.1f GB", float64(n)/(1<<30))
}
