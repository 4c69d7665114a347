// Package command is the command line: it turns a call into a call of
// working/sequence, shows progress on a terminal, and turns errors into a
// message with a next step and an exit code.
//
// Main function: Run. Standard output carries only what was asked for; all
// messages go to standard error. Exit codes: 0 done, 1 the input or the work
// failed, 2 the call was wrong, 130 interrupted.
package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"unicode/utf8"

	"github.com/alecthomas/kong"

	"pourwright/internal/ground/fault"
)

// Version of pourwright; it stands on paper and in no mesh file.
const Version = "0.1.0"

// verbs is the whole command line.
type verbs struct {
	Demo         demo         `cmd:"" help:"Plan the example piece that comes with pourwright."`
	Master       master       `cmd:"" help:"Inspect a master: size, shells, undercuts, trapped air."`
	Sheet        sheetVerb    `cmd:"" help:"Write the check sheet to photograph masters on, to be printed at 100 %."`
	Plan         planVerb     `cmd:"" help:"Plan the mould and the pour of a job file."`
	Pour         pourVerb     `cmd:"" help:"Compute the pour of a plan again, with other settings."`
	Thermocouple thermocouple `cmd:"" help:"Fit the rubber's conductivity to the log of a real pour."`
	Materials    materials    `cmd:"" help:"List alloys and rubbers with the source of each value."`
	Version      version      `cmd:"" help:"Print the version."`
}

// call is what every verb gets.
type call struct {
	ctx      context.Context
	out, err io.Writer
}

// exit stops kong where it would end the process.
type exit int

// Run does one call and returns the exit code.
func Run(args []string, stdout, stderr io.Writer) (code int) {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return run(ctx, args, stdout, stderr)
}

func run(ctx context.Context, args []string, stdout, stderr io.Writer) (code int) {
	defer func() {
		switch x := recover().(type) {
		case nil:
		case exit:
			code = int(x)
		default:
			fmt.Fprintf(stderr, "pourwright: this is a fault of pourwright itself: %v\n  please report it with the files of this call\n", x)
			code = 1
		}
	}()
	p, err := kong.New(&verbs{}, kong.Name("pourwright"), kong.Writers(stdout, stderr),
		kong.Description("From a master to a plan for a two-part silicone mould and its pour."),
		kong.Exit(func(c int) { panic(exit(c)) }), kong.ConfigureHelp(kong.HelpOptions{Compact: true}))
	if err != nil {
		return report(stderr, err)
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := p.Parse(kept(joined(args)))
	if err != nil {
		return report(stderr, fault.New(fault.Usage, "", "pourwright --help lists verbs and flags", "%s", strings.TrimSpace(err.Error())))
	}
	return report(stderr, k.Run(&call{ctx, stdout, stderr}))
}

// direction is a value such as -1,0,0, which is no flag.
var direction = regexp.MustCompile(`^-[0-9.]`)

// numeric are the flags whose value may begin with a minus.
var numeric = []string{"--up", "--pull", "--body", "--metal", "--mould", "--room", "--conductivity", "--contact", "--wait", "--rest", "--moulds", "--shots", "--cell", "--rate", "--ladle", "--height", "--tilt", "--tilt-back", "--fill-cell", "--gap", "--pours", "--depth-error", "--step", "--thickness", "--chamfer"}

// joined writes "--up -1,0,0" as "--up=-1,0,0".
func joined(args []string) []string {
	var r []string
	for i := 0; i < len(args); i++ {
		a := args[i]
		if slices.Contains(numeric, a) && i+1 < len(args) && direction.MatchString(args[i+1]) {
			a += "=" + args[i+1]
			i++
		}
		r = append(r, a)
	}
	return r
}

// The parser of the command line takes text, a file name is bytes: what is not
// UTF-8 in an argument is carried through it as the rune rawByte + the byte, in
// a private part of Unicode, and given back by file.
const rawByte = 0xf1700

func kept(args []string) []string {
	out := make([]string, len(args))
	for i, a := range args {
		var b strings.Builder
		for len(a) > 0 {
			r, n := utf8.DecodeRuneInString(a)
			if r == utf8.RuneError && n == 1 {
				r = rawByte + rune(a[0])
			}
			b.WriteRune(r)
			a = a[n:]
		}
		out[i] = b.String()
	}
	return out
}

// file returns a file name as it was given on the command line.
func file(s string) string {
	var b strings.Builder
	for _, r := range s {
		if r >= rawByte && r < rawByte+256 {
			b.WriteByte(byte(r - rawByte))
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// report prints an error and its next step and returns the exit code.
func report(w io.Writer, err error) int {
	if err == nil {
		return 0
	}
	var quiet syscall.Errno
	if errors.As(err, &quiet) && quiet == syscall.EPIPE {
		return 1 // whoever read our output has gone
	}
	fmt.Fprintf(w, "pourwright: %s\n", err)
	if h := fault.HintOf(err); h != "" {
		fmt.Fprintf(w, "  %s\n", h)
	}
	switch fault.KindOf(err) {
	case fault.Usage:
		return 2
	case fault.Interrupted:
		return 130
	case fault.Internal:
		fmt.Fprintln(w, "  this is a fault of pourwright itself; please report it with the files of this call")
	}
	return 1
}

type version struct{}

// Run prints the version.
func (version) Run(c *call) error {
	_, err := fmt.Fprintln(c.out, "pourwright "+Version)
	return err
}
