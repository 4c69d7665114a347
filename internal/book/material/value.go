package material

// Value is one number with where it comes from.
type Value struct {
	X         float64 // in the unit of its field
	Low, High float64 // the range it may lie in
	Grade     string  // A+ A B C D, or S for the user's own data sheet
	Source    string  // a code of Sources
	Memory    bool    // the value, or an essential input of it, is from memory
	Note      string
}

// Measured reports whether the value comes from the user's own data sheet or
// measurement.
func (v Value) Measured() bool { return v.Source == Sheet || v.Source == OwnSource }

// Sheet is the source code of values given in a job.
const Sheet = "SHEET"

// spread is the share either way that a grade stands for where the table gives
// no range.
func spread(grade string) float64 {
	switch grade {
	case "A+":
		return 0.005
	case "A":
		return 0.02
	case "B":
		return 0.05
	case "C":
		return 0.15
	}
	return 0.30
}

// Source is the text behind a source code.
type Source struct{ Code, Text string }

// SourceText returns the text behind a code, and the code itself where it is
// unknown.
func SourceText(code string) string {
	for _, s := range tables().sources {
		if s.Code == code {
			return s.Text
		}
	}
	return code
}

// Sources returns all source codes with their texts, in the table's order.
func Sources() []Source { return append([]Source(nil), tables().sources...) }
