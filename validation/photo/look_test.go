package photo

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// POURWRIGHT_PICTURES=folder writes the pictures there, to be looked at.
func TestWritePictures(t *testing.T) {
	dir := os.Getenv("POURWRIGHT_PICTURES")
	if dir == "" {
		t.Skip("POURWRIGHT_PICTURES=folder writes the pictures")
	}
	for n := range uint64(4) {
		t0 := time.Now()
		s := cardScene(n, 1600, 1200)
		t1 := time.Now()
		b := s.shoot()
		t.Log(s.name, t1.Sub(t0), time.Since(t1))
		os.WriteFile(filepath.Join(dir, fmt.Sprintf("p%02d.jpg", n)), b, 0o644)
	}
}
