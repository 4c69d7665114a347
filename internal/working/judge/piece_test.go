package judge

import (
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
)

// A piece that no two halves free and whose best pull runs askew is told how
// the trade moulds it; one pulled along an axis, freed, or forced is not.
func TestAskewPullNamesThreePiecesOrASlitMould(t *testing.T) {
	bar := []plan.Finding{{Code: "needs-piece", Severity: plan.Must}}
	forced := &job.Job{}
	forced.Split.Pull = &plan.P3{0.5, 0.5, 0.7}
	for name, c := range map[string]struct {
		f    Facts
		told bool
	}{
		"askew":  {Facts{Job: &job.Job{}, Split: plan.Split{Pull: plan.P3{0.51, 0.48, 0.715}}, Findings: bar}, true},
		"along":  {Facts{Job: &job.Job{}, Split: plan.Split{Pull: plan.P3{0.1, 0, -0.995}}, Findings: bar}, false},
		"freed":  {Facts{Job: &job.Job{}, Split: plan.Split{Pull: plan.P3{0.51, 0.48, 0.715}}}, false},
		"forced": {Facts{Job: forced, Split: plan.Split{Pull: plan.P3{0.51, 0.48, 0.715}}, Findings: bar}, false},
	} {
		v := Judge(c.f)
		told := false
		for _, x := range v.Findings {
			told = told || x.Code == "needs-piece" && x.Severity == plan.Note && strings.Contains(x.Do, "slit") && strings.Contains(x.Do, "three")
		}
		if told != c.told {
			t.Errorf("%s: told %v", name, told)
		}
	}
}
