package command

import (
	"encoding/json"
	"math"
	"testing"
)

// 68 g of 7.29 g/cm3 are 9.328 cm3; the errors of scale and density are 0.1 g
// and 3 %.
func TestMasterByMeasures(t *testing.T) {
	args := []string{"master", "--length", "60", "--width", "40", "--height", "20", "--mass", "68", "--density", "7.29", "--class", "plate"}
	code, out, errs := do(append(args, "--json")...)
	if code != 0 {
		t.Fatalf("exit %d: %s", code, errs)
	}
	var got map[string]measuredSaid
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	m := got["measured"]
	want := [3]float64{67.9e3 / (7.29 * 1.03), 68e3 / 7.29, 68.1e3 / (7.29 * 0.97)}
	for i := range want {
		if math.Abs(m.Volume[i]/want[i]-1) > 1e-9 {
			t.Errorf("volume %v, want %v", m.Volume, want)
			break
		}
	}
	if m.Computed || m.From != "mass and density" {
		t.Errorf("computed %v from %q", m.Computed, m.From)
	}
	for _, c := range []struct {
		code int
		args []string
	}{
		{0, args},
		{2, append([]string{"master", "some.stl"}, args[1:]...)},
		{2, []string{"master"}},
		{1, append(args, "--thickest", "25")},
		{1, append(args, "--gain", "60")},
		{1, []string{"master", "--mass", "5"}},
	} {
		if code, _, errs := do(c.args...); code != c.code || (code != 0) != (errs != "") {
			t.Errorf("%v: exit %d, want %d; %s", c.args, code, c.code, errs)
		}
	}
}
