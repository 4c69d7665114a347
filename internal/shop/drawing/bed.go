package drawing

import (
	"strings"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
)

// bed makes the sheet for the bed of half 1: box, pads, clay, keys, formers.
func (c *card) bed() {
	in, b := c.in, c.in.Plan.Block
	f := c.flowOn("Bed", "Half 1")
	f.title("Bed for half 1", "Block "+Built(b.Size[0])+" × "+Built(b.Size[1])+" × "+Built(b.Size[2])+nb+"mm", "across × up × deep")
	n := f.steps(sizeStep, 1, in.bedSteps())
	c.padTable(f)
	f.heading("Close the bed", "")
	f.steps(sizeStep, n, in.closeSteps())
	c.keyTable(f)
}

func (in *Input) bedSteps() []step {
	size := in.Plan.Master.Size
	first := step{do: "Clean the master. Caliper its longest side: " + strong(Length(max(size[0], size[1], size[2]))+nb+"mm"),
		small: []string{"If it differs by more than 0.3" + nb + "mm, plan again with the caliper's length."}}
	if in.Bench.Condensation {
		first.caution = strong("Wet or porous masters spoil the face.") + " Seal wood and plaster, dry them a full day."
	} else {
		first.caution = strong("Sulphur, latex, amines and tin stop this rubber from setting.") + " Clay free of sulphur; try a drop of rubber on the master first."
	}
	who := "the master"
	if in.cavities() > 1 {
		who = "each master"
	}
	pads := " on its three pads, heights in the table below."
	if len(in.pads()) == 0 {
		pads = " in clay at its height: its underside is too narrow for pads."
	}
	l := []step{first,
		{do: "Board level. Glue the bed plan on it, cup edge away from you.", small: []string{"Board at least 25" + nb + "mm wider all round."}},
		{do: "Set " + who + pads, small: []string{"Half 2's side down. The upper edge of the block is the cup's."}},
	}
	clay := ""
	if in.Bench.Clay > 0 {
		clay = " About " + Cubic(in.Bench.Clay) + " of clay."
	}
	l = append(l, step{do: "Build clay up to the line." + clay, small: []string{"Sharp edge against the master, no fillet. Stand the profile strips in it, lay the mask over: it settles on the line all round."}})
	for i, u := range in.Plan.Split.Undercuts {
		if u.Action == nil || (*u.Action != "clay" && *u.Action != "trim") {
			continue
		}
		name := "undercut " + grouped(float64(in.look().under[i]), 0)
		do := "Fill " + name + " with clay, flush, " + Length(u.Depth) + nb + "mm deep."
		if *u.Action == "trim" {
			do = "Trim " + name + " off the master, " + Length(u.Depth) + nb + "mm deep."
		}
		l = append(l, step{do: do})
	}
	l = append(l, in.insertSteps()...)
	return l
}

// insertSteps lays the inserts into the line, like ones in one step. One that
// a finding says cannot be held is left out until the finding is settled.
func (in *Input) insertSteps() []step {
	frames := in.placements()
	var l []step
	seen := map[string]int{}
	for _, ins := range in.Plan.Block.Inserts {
		what := clean(ins.Kind)
		size := Length(ins.Diameter) + nb + "mm thick, " + Length(ins.Length) + nb + "mm long."
		if no := in.insertBarred(ins, frames); no > 0 {
			l = append(l, step{do: "Leave out the " + what + ", " + size, small: []string{"Finding " + grouped(float64(no), 0) + ": the mould cannot hold it as it is given."}})
			continue
		}
		if k, ok := seen[what+size]; ok {
			l[k].do = "Lay each " + what + " like this into the line: " + size
			continue
		}
		seen[what+size] = len(l)
		l = append(l, step{do: "Lay the " + what + " into the line: " + size, small: []string{"Half of it in the clay."}})
	}
	return l
}

// insertBarred returns the number of a finding that must be settled before an
// insert can be used, 0 where there is none.
func (in *Input) insertBarred(ins plan.Insert, frames []vec.Frame) int {
	for i, f := range in.Plan.Findings {
		if f.Code != "insert" || f.Severity != plan.Must || f.At == nil {
			continue
		}
		for _, fr := range frames {
			if fr.To(vec.FromArray(*f.At)).Dist(vec.FromArray(ins.At)) < 0.5*ins.Diameter+0.1 {
				return in.look().numbers[i]
			}
		}
	}
	return 0
}

func (in *Input) closeSteps() []step {
	b := in.Plan.Block
	l := []step{}
	if n := len(b.Keys); n > 0 {
		l = append(l, step{do: "Shape " + counted(n) + " keys from the key plan, all different places.",
			small: []string{"Pits in the clay become bumps on half 1, bumps become pits. Smooth walls, slightly tapered."}})
	}
	parts := []string{"cup and ingate"}
	if len(b.FlowOffs) > 0 {
		parts = append(parts, "flow-offs")
	}
	if len(b.Feeders) > 0 {
		parts = append(parts, "feeders")
	}
	formers := step{do: "Bed the formers for " + strings.Join(parts, ", ") + " half into the clay.", small: []string{"Rods or printed formers, tight against the master. No gap, no clay on the upper half."}}
	if in.plain(1) {
		formers = step{do: "Lay the formers for " + strings.Join(parts, ", ") + " flat on the bed.", small: []string{"Printed formers, or rods cut in half along. Tight against the master, no gap."}}
	}
	l = append(l, formers)
	l = append(l, step{do: "Walls round it, wall strips inside. Seal every joint with clay.", small: []string{"Rubber finds any gap. The strip shows where the clay ends and how high the rubber goes."}})
	return append(l, step{do: "Release on master, board and walls: three light coats, each dry.", caution: strong("Spray mist burns and harms.") + " Window open, no flame, no coat thick enough to run."})
}

// turn makes the sheet between the two rubbers.
func (c *card) turn() {
	f := c.flowOn("Turn over", "Half 2")
	f.title("Turn over for half 2", "Half 1 has set, the witness cup says so.")
	cure := ""
	if r := c.in.Plan.Rubber; r != nil && r.Cure > 0 {
		cure = "Not before " + WaitWords(r.Cure) + " after mixing."
	}
	l := []step{
		{do: "Turn box and all over, half 1 below. Take the bed's board off.", small: nonempty(cure)},
		{do: "Take off the clay only. The master stays seated in half 1.", small: []string{"A lifted master gives a thick seam: press it back and start the clay there again."}},
		{do: "Clean the face, cut off ragged edges. Do not touch the keys."},
		{do: "Release on " + strong("all cured rubber") + ": three light coats, each dry.", caution: strong("Rubber grips rubber.") + " One missed place and the halves fuse for good. Let a second person look."},
		{do: "Walls up again, joints sealed, level. Formers still in place."},
		{do: "Same kind of rubber for half 2 as for half 1.", small: []string{"Kinds that set in different ways stop each other."}},
	}
	f.steps(sizeStep, 1, l)
	f.y += 4
	f.blanks(9, "Half 1 mixed at", "Turned over at", "Release looked at by")
}

// open makes the sheet for opening the block, cutting and drying.
func (c *card) open() {
	in, b := c.in, c.in.Plan.Block
	f := c.flowOn("Open, cut, dry", "Both halves")
	f.title("Open, cut, dry", "Cut smallest first, one change a shot.")
	l := []step{{do: "Walls off. Trim the edge, part the halves slowly from a key side.", small: []string{"Wooden wedge, soapy water. Never a knife into the seam."}}}
	others, deepest := 0, 0.0
	for i, u := range in.Plan.Split.Undercuts {
		if u.Action == nil || *u.Action != "release" {
			continue
		}
		if in.look().under[i] == 0 {
			others, deepest = others+1, max(deepest, u.Depth)
			continue
		}
		name := "Undercut " + grouped(float64(in.look().under[i]), 0)
		t := name + ", " + Length(u.Depth) + nb + "mm: peel the rubber off, do not pull it straight."
		var small []string
		if u.Strain != nil {
			small = []string{"It stretches by " + Share(*u.Strain) + " there. Castings come out hot: go slower then."}
		}
		l = append(l, step{do: t, small: small})
	}
	if others > 0 {
		s := counted(others) + " more undercuts"
		if others == 1 {
			s = "one more undercut"
		}
		l = append(l, step{do: strings.ToUpper(s[:1]) + s[1:] + ", " + Length(deepest) + nb + "mm at most: peel as well.", small: []string{"They have no numbers on the drawings."}})
	}
	l = append(l, step{do: "Lift the master out. Shave the lip off the rubber's backs.", small: []string{"Boards must lie flat."}})
	now, later := 0, 0
	for _, k := range b.Cuts {
		if k.When == "now" {
			now++
		} else {
			later++
		}
	}
	if now > 0 {
		s := "cuts"
		if now == 1 {
			s = "cut"
		}
		rest := "Rubber cannot be put back."
		if later > 0 {
			rest += " The others wait: only if it stays short."
		}
		l = append(l, step{do: "Make the " + counted(now) + " " + s + " marked now, from the list.", small: []string{rest}, caution: strong("Sharp blade, rubber slips.") + " Cut away from the hand that holds."})
	}
	l = append(l, step{do: "Wash the release off both halves. Dry.", small: []string{"Release smokes and pits the first castings."}})
	dry := "24" + nb + "h"
	if in.Bench.Condensation {
		dry = "48" + nb + "h"
	}
	if in.Bench.Dry > 0 {
		dry = WaitWords(in.Bench.Dry)
	}
	l = append(l, step{do: "Halves apart, flat, " + dry + " before the first pour.",
		caution: strong("Metal in a damp or young mould spits.") + " A shop oven, not the food oven; over 150" + nb + "°C rubber gives off formaldehyde."})
	f.steps(sizeStep, 1, l)
	c.cutTable(f)
	f.y += 3
	f.blanks(9, "Opened at", "Cut by", "Dry from")
}

// cutTable lists the cuts with their numbers.
func (c *card) cutTable(f *flow) {
	b := c.in.Plan.Block
	if b == nil || len(b.Cuts) == 0 {
		return
	}
	f.room(tableHigh(len(b.Cuts)))
	f.heading("Cuts", "in the face of the half, see its template")
	f.cuts(b.Cuts)
}

// cuts sets the list of cuts with a box to tick.
func (f *flow) cuts(cuts []plan.Cut) {
	var rows [][]string
	for _, k := range cuts {
		rows = append(rows, []string{strong("vent " + grouped(float64(k.No), 0)), grouped(float64(k.Half), 0),
			Length(pathLength(k.Path)) + nb + "mm", cutWidth(k.Width), Length(k.Depth) + nb + "mm", clean(k.When), ""})
	}
	w := f.x1 - f.x0
	start := f.y
	page0 := f.s
	f.tableIn(size{sizeWords.pt, 6}, []column{{head: "Cut", wide: 20}, {head: "Half", wide: 12}, {head: "Long", wide: 27, right: true}, {head: "Wide", wide: 23, right: true},
		{head: "Deep", wide: 23, right: true}, {head: "When", wide: w - 117}, {head: "Done", wide: 12}}, rows)
	if f.s == page0 {
		y := start + 5.2
		for range rows {
			f.s.rect(frameLine, f.x1-11, y+0.9, 6, 6)
			y += 7.7
		}
	}
}

// cutWidth says how wide a cut is; the knife alone opens a slit of up to
// 0.3 mm.
func cutWidth(mm float64) string {
	if mm <= 0.3 {
		return "knife slit"
	}
	return Length(mm) + nb + "mm"
}

func pathLength(l []plan.P3) float64 {
	s := 0.0
	for i := 1; i < len(l); i++ {
		s += dist(l[i-1], l[i])
	}
	return s
}

func nonempty(s ...string) []string {
	var out []string
	for _, x := range s {
		if x != "" {
			out = append(out, x)
		}
	}
	return out
}

// padTable lists the pads under the master.
func (c *card) padTable(f *flow) {
	pads := c.in.pads()
	if len(pads) == 0 {
		return
	}
	f.room(tableHigh(len(pads)))
	f.heading("Pads under the master", "height from the board to its underside")
	var rows [][]string
	for _, p := range pads {
		rows = append(rows, []string{p.name, strong(Length(p.high)) + nb + "mm", Built(p.fromLeft) + nb + "mm", Built(p.fromTop) + nb + "mm"})
	}
	w := f.x1 - f.x0
	f.table([]column{{head: "Place, seen from above", wide: w - 90}, {head: "High", wide: 30, right: true}, {head: "From the left edge", wide: 30, right: true}, {head: "From the cup edge", wide: 30, right: true}}, rows)
}

// keyTable lists the keys as one sees them on the bed from above.
func (c *card) keyTable(f *flow) {
	b := c.in.Plan.Block
	if len(b.Keys) == 0 {
		return
	}
	f.room(tableHigh(len(b.Keys)))
	f.heading("Keys", "on the bed, seen from above, cup edge up")
	f.keys(b)
}

func (f *flow) keys(b *plan.Block) {
	var rows [][]string
	for i, k := range b.Keys {
		do := "pit"
		if k.Depth > 0 {
			do = "bump"
		}
		deep := max(k.Depth, -k.Depth)
		rows = append(rows, []string{strong("key " + grouped(float64(i+1), 0)), do, Length(k.Diameter) + nb + "mm", Length(deep) + nb + "mm",
			Built(k.At[0]+b.Size[0]/2) + nb + "mm", Built(b.Size[1]/2-k.At[1]) + nb + "mm"})
	}
	w := f.x1 - f.x0
	f.table([]column{{head: "Key", wide: w - 128}, {head: "On the bed", wide: 20}, {head: "Wide", wide: 22, right: true}, {head: "High or deep", wide: 24, right: true},
		{head: "From the left edge", wide: 32, right: true}, {head: "From the cup edge", wide: 30, right: true}}, rows)
}

// tableHigh is the room of a heading and a table of n rows, so that a table is
// not parted where it fits on one sheet; a longer one may be.
func tableHigh(n int) float64 {
	if n > 24 {
		return 40
	}
	return 18 + 7.7*float64(n)
}
