package fault

import "testing"

func TestNearest(t *testing.T) {
	known := []string{"castings", "use", "tin", "pewter-92-7-1", "pewter-91-7-2", "condensation-heat-30"}
	for word, want := range map[string]string{
		"casting": "castings", "Castigns": "castings", "sue": "use", "pewter-92-7": "pewter-92-7-1",
		"condensation-30": "condensation-heat-30", "zzzz": "", "": "", "tn": "tin", "aluminium": "",
	} {
		if got := Nearest(word, known); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", word, got, want)
		}
	}
	if d := distance([]rune("ab"), []rune("ba")); d != 1 {
		t.Errorf("swap of neighbours costs %d, want 1", d)
	}
}
