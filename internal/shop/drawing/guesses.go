package drawing

import (
	"strings"

	"pourwright/internal/book/plan"
)

// The front tells the guesses that would change the verdict and as many others
// as make frontGuesses together, tightGuesses beside a table of costs; the rest
// stand behind the findings.
const (
	frontGuesses = 5
	tightGuesses = 3
)

// guessed parts the guesses into those of the front and the others, each in
// the order of the plan, but for the deciding ones, which come first.
func (in *Input) guessed() (front, rest []plan.Guess) {
	var plain []plan.Guess
	for _, g := range in.Plan.Guessed {
		if g.Flips != nil && *g.Flips {
			front = append(front, g)
		} else {
			plain = append(plain, g)
		}
	}
	most := frontGuesses
	if in.Plan.Order.Cost != nil {
		most = tightGuesses
	}
	n := min(len(plain), max(0, most-len(front)))
	return append(front, plain[:n]...), plain[n:]
}

// guesses sets the table of what was not measured on the front.
func (c *card) guesses(f *flow) {
	front, rest := c.in.guessed()
	if len(front) == 0 {
		return
	}
	remark := "these were guessed"
	if n := len(rest); n == 1 {
		remark += "; one more stands behind the findings"
	} else if n > 1 {
		remark += "; " + counted(n) + " more stand behind the findings"
	}
	f.heading("Not measured", remark)
	c.guessTable(f, front)
}

// otherGuesses sets those that the front has no room for.
func (c *card) otherGuesses(f *flow) {
	if _, rest := c.in.guessed(); len(rest) > 0 {
		f.heading("Not measured", "the other guesses")
		c.guessTable(f, rest)
	}
}

func (c *card) guessTable(f *flow, list []plan.Guess) {
	var rows [][]string
	for _, x := range list {
		flips := "Not computed"
		if x.Flips != nil {
			flips = "No"
			if *x.Flips {
				flips = strong("Yes")
			}
		}
		name, k := sayInput(x.Input), 1.0
		if n, ok := strings.CutSuffix(name, ", share"); ok {
			name, k = n+", %", 100
		}
		rows = append(rows, []string{name, plain(k * x.Used), Between(plain(k*x.Range[0]), plain(k*x.Range[1])), flips})
	}
	w := f.x1 - f.x0
	f.tableIn(size{9.6, 4.4}, []column{{head: "Guessed", wide: w - 100}, {head: "Used", wide: 22, right: true}, {head: "May lie between", wide: 36, right: true},
		{head: "Would it change the verdict?", wide: 42}}, rows)
}
