// Package photo holds the photographed master against pictures of pieces whose
// outline is known. The pictures come from a camera of the test's own, which
// shares no code with the finder: see render_test.go.
package photo

import "os"

func full() bool { return os.Getenv("POURWRIGHT_FULL") == "1" }
