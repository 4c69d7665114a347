package pour

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/pour"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/working/rig"
	"pourwright/validation/outside"
)

// fills pours by the first hands on cells of h mm.
func (f *folder) fills(t *testing.T, h float64, pours int) *pour.Filling {
	t.Helper()
	s := f.setting
	s.Fill, s.FillCell, s.Pours = true, &h, &pours
	r, err := rig.Fill(context.Background(), f.mould, s, rig.Options{})
	if err != nil {
		t.Fatal(err)
	}
	d := &r.Doc
	for _, why := range d.Broken {
		t.Errorf("%g mm: a pour broke down: %s", h, why)
	}
	for _, x := range d.Runs {
		t.Logf("%g mm, %d cells, %s: filled %.2f %% (castings %.2f %%), trapped %.2f %%, short %.2f %%, %.2f s, over %.0f mm3, %d steps, fastest %.2f m/s, volume %.0e, heat %.0e",
			h, d.Grids[0].Cells, x.Name, 100*x.Filled, 100*x.Castings, 100*x.Trapped, 100*x.Short, x.Time, x.Overflow, x.Steps, x.Fastest/1e3, x.Volume, x.Energy)
		// A step that shrinks without end would take more than metal of 20 m/s does, all the time.
		if most := (x.Time + 3) * 20e3 / h; float64(x.Steps) > most {
			t.Errorf("%g mm, %s: %d steps", h, x.Name, x.Steps)
		}
		if !(math.Abs(x.Volume) <= 1e-10 && math.Abs(x.Energy) <= 1e-6) {
			t.Errorf("%g mm, %s: volume off by %g, heat by %g", h, x.Name, x.Volume, x.Energy)
		}
		if !(x.Castings > 0.5 && x.Filled <= 1+1e-9 && x.Trapped >= 0 && x.Trapped < 0.5) {
			t.Errorf("%g mm, %s: filled %g, trapped %g", h, x.Name, x.Filled, x.Trapped)
		}
	}
	return d
}

// large is the number of cells from which on the finer grid is poured by the steady hand alone unless FILL_POURS says
// otherwise: a hand takes an hour and a half there on one core. Two of the twenty have as many.
const large = 28000

// TestMeshesFill plans castable meshes of the outside set at 60 mm and pours them: every pour comes to its end,
// with volume and heat accounted for. In CI three of them by one hand on cells of 2 mm; at full size all on 2 and 1 mm
// by three hands, the steady one and two unsteady ones, whose medians of the share of the castings that fills and of the trapped
// one must agree within 2 % of the cavity for nine of ten. That takes some seventeen hours of one core. FILL_POURS takes another
// number of hands, for all of them, FILL_CELL and FILL_FINE other cells.
func TestMeshesFill(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	names, pours := []string{"bracket_top.ply", "fish.obj", "plate_holes.stl"}, 1
	coarse, fine := 2.0, 0.0
	if full() {
		names, pours, coarse, fine = outside.Castable(t, dir), 3, 2, 1
	}
	pours = int(asked(t, "FILL_POURS", float64(pours)))
	coarse, fine = asked(t, "FILL_CELL", coarse), asked(t, "FILL_FINE", fine)
	var apart []string
	done := 0
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, "files", name))
			if err != nil {
				t.Fatal(err)
			}
			m, _, err := meshfile.Parse(data, name, meshfile.Options{})
			if err != nil {
				t.Fatal(err)
			}
			j, err := job.Parse(filepath.Join(t.TempDir(), "job.toml"), []byte(outside.Job))
			if err != nil {
				t.Fatal(err)
			}
			f := planned(t, j, stl(t, outside.At60(m)))
			d := f.fills(t, coarse, pours)
			a := d.Middle
			if fine == 0 {
				return
			}
			hands := pours
			if d.Grids[0].Cells > large && os.Getenv("FILL_POURS") == "" {
				hands = 1
			}
			b := f.fills(t, fine, hands).Middle
			done++
			df, dt := b.Castings.Median-a.Castings.Median, b.Trapped.Median-a.Trapped.Median
			t.Logf("%g -> %g mm: castings filled %+.2f %%, trapped %+.2f %% of the cavity", coarse, fine, 100*df, 100*dt)
			if math.Abs(df) > 0.02 || math.Abs(dt) > 0.02 {
				apart = append(apart, name)
			}
		})
	}
	if 10*len(apart) > done {
		t.Errorf("%d of %d do not agree between the grids: %s", len(apart), done, strings.Join(apart, ", "))
	}
}

// asked is a number from the environment.
func asked(t *testing.T, name string, otherwise float64) float64 {
	t.Helper()
	s := os.Getenv(name)
	if s == "" {
		return otherwise
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return x
}
