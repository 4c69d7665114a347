package fit

// Result is what the recording says.
type Result struct {
	Params      []Estimate  // in the order of the problem
	Start       []Estimate  // of each pour: when it began, s in the recording
	Probes      []ProbeFit  // in the order of the problem
	Correlation [][]float64 // between the parameters, in their fitted form
	Noise       Noise
	Freedom     float64 // degrees of freedom of the limits
	Level       float64
	Runs        int // of the model
	Converged   bool
	Findings    []Finding

	scale []Scale // of the parameters
}

// Estimate is a value with its limits.
type Estimate struct {
	Name, Unit        string
	Value, Low, High  float64
	LowOpen, HighOpen bool    // the recording sets no such limit: Low or High is what the model can take
	Told              bool    // the limits are narrow enough to be used
	SpreadOf          float64 // standard error of the fitted form: of ln value, or of start/value
}

// ProbeFit is what was found of one probe.
type ProbeFit struct {
	Name   string
	Used   bool
	Points int       // after means were taken of dense readings
	Spikes int       // single readings left out
	Shift  Estimate  // mm
	Bias   Estimate  // K
	Gain   Estimate  // share
	Drift  Estimate  // K, from the first reading to the last
	RMS    float64   // K, of what is left
	Time   []float64 // s from the pour
	Read   []float64 // degC, as recorded
	Model  []float64 // degC, as computed with everything fitted
}

// Noise is what the residuals look like.
type Noise struct {
	White  float64 // K, standard deviation of what differs from reading to reading
	Slow   float64 // K, of what stays for a while
	Memory float64 // s, how long it stays
}

// Finding is something a person must know before using the values.
type Finding struct {
	Code     string // closed list: not-told, one-sided, correlated, shifted, misfit, flat, no-start, at-bound, not-converged, short
	Severity string // must, should or note, as in a plan
	Say, Do  string
}

// Usable reports whether no finding forbids the use of the values.
func (r *Result) Usable() bool {
	for _, f := range r.Findings {
		if f.Severity == "must" {
			return false
		}
	}
	return true
}

// Of returns the estimate of a parameter by name.
func (r *Result) Of(name string) (Estimate, bool) {
	for _, e := range r.Params {
		if e.Name == name {
			return e, true
		}
	}
	return Estimate{}, false
}
