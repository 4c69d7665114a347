package batch

import (
	"math"

	"pourwright/internal/book/plan"
)

// ISO 8062-3:2007 table 2: total band in mm of linear dimensions by grade DCTG
// 1 to 16; zero where the table has none. Rows are sizes up to dctgUpTo.
var dctgUpTo = [10]float64{10, 16, 25, 40, 63, 100, 160, 250, 400, 630}

var dctg = [10][16]float64{
	{0.09, 0.13, 0.18, 0.26, 0.36, 0.52, 0.74, 1, 1.5, 2, 2.8, 4.2},
	{0.1, 0.14, 0.2, 0.28, 0.38, 0.54, 0.78, 1.1, 1.6, 2.2, 3, 4.4},
	{0.11, 0.15, 0.22, 0.3, 0.42, 0.58, 0.82, 1.2, 1.7, 2.4, 3.2, 4.6, 6, 8, 10, 12},
	{0.12, 0.17, 0.24, 0.32, 0.46, 0.64, 0.9, 1.3, 1.8, 2.6, 3.6, 5, 7, 9, 11, 14},
	{0.13, 0.18, 0.26, 0.36, 0.5, 0.7, 1, 1.4, 2, 2.8, 4, 5.6, 8, 10, 12, 16},
	{0.14, 0.2, 0.28, 0.4, 0.56, 0.78, 1.1, 1.6, 2.2, 3.2, 4.4, 6, 9, 11, 14, 18},
	{0.15, 0.22, 0.3, 0.44, 0.62, 0.88, 1.2, 1.8, 2.5, 3.6, 5, 7, 10, 12, 16, 20},
	{0, 0.24, 0.34, 0.5, 0.7, 1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 14, 18, 22},
	{0, 0, 0.4, 0.56, 0.78, 1.1, 1.6, 2.2, 3.2, 4.4, 6.2, 9, 12, 16, 20, 25},
	{0, 0, 0, 0.64, 0.9, 1.2, 1.8, 2.6, 3.6, 5, 7, 10, 14, 18, 22, 28},
}

// Band returns the total tolerance band in mm of a size in mm and a grade 1 to
// 16, zero where the table has none.
func Band(size float64, grade int) float64 {
	for i, top := range dctgUpTo {
		if size <= top && grade >= 1 && grade <= 16 {
			return dctg[i][grade-1]
		}
	}
	return 0
}

// NetShrink returns the share by which a cold casting is smaller than the
// master: contraction of the alloy + cure shrinkage of the rubber - expansion
// of the rubber from the room to its temperature at the pour. Held between
// boards the rubber may instead close in on the cavity.
func NetShrink(contraction, shrink, expansion, mould, room float64) plan.Figure {
	return figure("net shrinkage", contraction+shrink-expansion*(mould-room), "share",
		"contraction + shrink - expansion (mould - room)", craft+"; keep a measured factor per rubber and alloy",
		in{"contraction, share", contraction}, in{"shrink, share", shrink}, in{"expansion, 1/K", expansion}, in{"mould, C", mould}, in{"room, C", room})
}

// OffSize returns how far the longest dimension comes out from the master, mm;
// negative is smaller.
func OffSize(size, net float64) plan.Figure {
	return figure("longest dimension against the master", -size*net, "mm", "-size x net", law, in{"size, mm", size}, in{"net, share", net})
}

// Grade returns the finest grade of ISO 8062-3 whose half band takes the
// difference, 17 where none does.
func Grade(size, off float64) plan.Figure {
	g := 17
	for k := 16; k >= 1; k-- {
		if b := Band(size, k); b > 0 && math.Abs(off) <= b/2 {
			g = k
		}
	}
	return figure("dimensional grade DCTG, without an allowance on the master", float64(g), "", "finest grade whose half band holds the difference; 17: none",
		"ISO 8062-3:2007 table 2", in{"size, mm", size}, in{"difference, mm", off})
}
