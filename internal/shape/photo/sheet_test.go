package photo

import "testing"

// Every run of eleven marks, read either way, stands once in all frames.
func TestRunsStandOnce(t *testing.T) {
	seen := map[string]string{}
	for _, f := range Frames {
		n := len(f.Code)
		if n != 2*(f.NX+f.NY)-4 || len(f.Marks()) != n {
			t.Fatalf("%s: %d marks in the code, %d in the frame", f.Name, n, len(f.Marks()))
		}
		for s := range n {
			var a, b []byte
			for k := range run {
				a = append(a, f.Code[(s+k)%n])
				b = append(b, f.Code[(s+run-1-k)%n])
			}
			for _, w := range []string{string(a), string(b)} {
				if where, twice := seen[w]; twice {
					t.Errorf("%s stands in %s and %s", w, f.Name, where)
				}
				seen[w] = f.Name
			}
		}
	}
}
