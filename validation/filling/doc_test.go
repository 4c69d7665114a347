// Package filling holds the flow of metal into a cavity against published
// experiments and solutions. Small grids by default, all with POURWRIGHT_FULL=1.
package filling

import "os"

func full() bool { return os.Getenv("POURWRIGHT_FULL") != "" }
