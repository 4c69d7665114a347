// Command pourwright goes from a master to a plan for a two-part silicone
// mould.
package main

import (
	"os"

	"pourwright/internal/front/command"
)

func main() { os.Exit(command.Run(os.Args[1:], os.Stdout, os.Stderr)) }
