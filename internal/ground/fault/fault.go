// Package fault holds the few kinds of error that a person meets. Each has a
// text that says what is wrong and where, and a hint that says what to do
// next; front/command turns the kind into an exit code.
package fault

import (
	"errors"
	"fmt"
)

// Kind tells errors apart by who can mend them.
type Kind int

const (
	Internal    Kind = iota // a fault of pourwright itself
	Input                   // a file, a job or a value in it: exit code 1
	Usage                   // the call was wrong: exit code 2
	Interrupted             // stopped by the person: exit code 130
	Unstable                // a solver left its limits: exit code 1
)

// Error is an error with a kind, a place and a next step.
type Error struct {
	Kind  Kind
	Place string // file, file:line:column, cell or step; empty where there is none
	Text  string // what is wrong, no capital at the start, no full stop at the end
	Hint  string // what to do next; empty where there is nothing to add
	Cause error  // the error underneath, or nil
}

func (e *Error) Error() string {
	if e.Place == "" {
		return e.Text
	}
	return e.Place + ": " + e.Text
}

func (e *Error) Unwrap() error { return e.Cause }

// New makes an error of a kind. Place and hint may be empty.
func New(kind Kind, place, hint, format string, args ...any) *Error {
	return &Error{Kind: kind, Place: place, Hint: hint, Text: fmt.Sprintf(format, args...)}
}

// KindOf returns the kind of the first Error in err's chain, Internal if none.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// HintOf returns the hint of the first Error in err's chain.
func HintOf(err error) string {
	var e *Error
	if errors.As(err, &e) {
		return e.Hint
	}
	return ""
}
