package followboard

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/block"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// Input is what a board is made from. Points are in the block frame.
type Input struct {
	Height    func(x, y float64) float64 // parting surface
	Box       vec.Box                    // of the block; its x and y sides are the board's
	Bodies    []*mesh.Mesh               // masters, and formers that are sunk in the board
	Keys      []block.Key
	Clearance float64 // between master and board at the rim; 0.15
	Floor     float64 // least thickness under the deepest imprint; 3
	Cell      float64 // of the grid; 0.4
}

// Result is the board and what to know about it.
type Result struct {
	Mesh  *mesh.Mesh
	Clay  float64 // mm3 under the parting surface, above the lowest metal and outside the master: undercuts to be filled with clay
	Thick float64 // from the underside to the highest point
	Deep  float64 // deepest imprint under the parting surface above it
	Cell  float64 // grid used
}

// step is the least height of a wall, mm, so that no wall has lost its height.
// Imprints shallower than that are left out.
const step = 0.02

// fine is the number of columns per cell along each axis.
const fine = 3

// board is the work on one board.
type board struct {
	in      Input
	h       float64
	nx, ny  int // nodes
	out     []float64
	part    []int32   // face of the surface at each node; -1 where it is not cut along keys
	pit     []float64 // height in the imprint; +Inf where no metal is near
	phi     []float64 // below 0 in the imprint
	f       float64   // spacing of the columns
	fx, fy  int
	entry   []float64 // lowest metal of each column, +Inf where there is none
	dist    []float64 // from the shadow's edge, negative inside, mm
	cut     map[[2]int32]cutPoint
	fold    map[[2]int32]int32 // corners where an edge passes from one face of a key to another
	m       *mesh.Mesh
	nodes   []int32
	deep    float64
	deepest float64
	clay    float64
}

type cutPoint struct{ high, low int32 }

// Board makes the board. Errors: a block without extent, heights that are not
// finite.
func Board(in Input) (*Result, error) {
	set := func(x *float64, y float64) {
		if !(*x > 0) {
			*x = y
		}
	}
	set(&in.Clearance, 0.15)
	set(&in.Floor, 3)
	set(&in.Cell, 0.4)
	size := in.Box.Size()
	if !(size.X > 0 && size.Y > 0) || !size.Finite() {
		return nil, fault.New(fault.Internal, "follow board", "", "the block %v has no face", size.Array())
	}
	b := &board{in: in, h: math.Max(in.Cell, math.Sqrt(size.X*size.Y/300000))}
	b.nx, b.ny = max(2, int(math.Ceil(size.X/b.h)))+1, max(2, int(math.Ceil(size.Y/b.h)))+1
	if err := b.surface(); err != nil {
		return nil, err
	}
	b.cast()
	b.distances()
	b.imprint()
	b.build()
	r := &Result{Mesh: b.m, Deep: b.deep, Cell: b.h, Clay: b.clay}
	box := b.m.Box()
	r.Thick = box.Size().Z
	return r, nil
}

// xy returns the place of node (i, j); the last row and column stand on the
// block's sides.
func (b *board) xy(i, j int) (x, y float64) {
	x, y = b.in.Box.Min.X+float64(i)*b.h, b.in.Box.Min.Y+float64(j)*b.h
	if i == b.nx-1 {
		x = b.in.Box.Max.X
	}
	if j == b.ny-1 {
		y = b.in.Box.Max.Y
	}
	return x, y
}

// face returns the parting surface with its keys, and which of its faces that
// is: 0 the surface itself, odd numbers the flank of a key, even ones its top.
func (b *board) face(x, y float64) (z float64, part int32) {
	z = b.in.Height(x, y)
	for i, k := range b.in.Keys {
		dx, dy := x-k.At.X, y-k.At.Y
		r := k.Diameter/2 + 1 // a foot on a slope runs out past its circle
		if dx*dx+dy*dy > r*r {
			continue
		}
		h, p := (k.Diameter/2-math.Hypot(dx, dy))/math.Tan(block.Taper*math.Pi/180), int32(2*i+1)
		if d := math.Abs(k.Depth); h > d {
			h, p = d, p+1
		}
		if w := k.At.Z + h; k.Depth > 0 && w > z {
			z, part = w, p
		}
		if w := k.At.Z - h; k.Depth < 0 && w < z {
			z, part = w, p
		}
	}
	return z, part
}

func (b *board) surface() error {
	b.out = make([]float64, b.nx*b.ny)
	b.part = make([]int32, b.nx*b.ny)
	par.For(b.ny, 16, func(lo, hi int) {
		for j := lo; j < hi; j++ {
			for i := range b.nx {
				x, y := b.xy(i, j)
				b.out[j*b.nx+i], b.part[j*b.nx+i] = b.face(x, y)
			}
		}
	})
	for _, z := range b.out {
		if math.IsNaN(z) || math.IsInf(z, 0) {
			return fault.New(fault.Internal, "follow board", "", "the parting surface is not finite")
		}
	}
	return nil
}

// cast finds the lowest metal on lines a third of a cell apart. The lines
// stand off the nodes by a small odd amount, clear of walls on round numbers.
func (b *board) cast() {
	b.f = b.h / fine
	b.fx, b.fy = (b.nx-1)*fine+1, (b.ny-1)*fine+1
	b.entry = make([]float64, b.fx*b.fy)
	for i := range b.entry {
		b.entry[i] = math.Inf(1)
	}
	off := 0.0137 * b.f
	for _, m := range b.in.Bodies {
		c := voxel.Cast(m, b.fx, b.fy, b.in.Box.Min.X+off, b.in.Box.Min.Y+off, b.f)
		b.clay += b.f * b.f * par.Sum(b.fy, 16, func(lo, hi int) float64 {
			sum := 0.0
			for q := lo * b.fx; q < hi*b.fx; q++ {
				s := c.Of(q)
				if len(s) == 0 {
					continue
				}
				b.entry[q] = min(b.entry[q], s[0].Lo)
				z := b.in.Height(c.X0+float64(q%b.fx)*b.f, c.Y0+float64(q/b.fx)*b.f)
				sum += max(0, z-s[0].Lo)
				for _, p := range s {
					sum -= max(0, min(z, p.Hi)-p.Lo)
				}
			}
			return sum
		})
	}
}

// near is the reach of the distances, in columns.
const near = 8

// distances measures how far each column stands from the edge of the shadow,
// up to near columns: the least over rows of the squared distances along
// columns. Half a spacing is taken off, the edge being between two columns.
func (b *board) distances() {
	n := len(b.entry)
	b.dist = make([]float64, n)
	const none = 1 << 14
	for _, inside := range []bool{false, true} {
		along := make([]int32, n) // squared distance along the row to the other kind
		par.For(b.fy, 16, func(lo, hi int) {
			for j := lo; j < hi; j++ {
				row := b.entry[j*b.fx : (j+1)*b.fx]
				d := along[j*b.fx : (j+1)*b.fx]
				last := -none
				for i, e := range row {
					if math.IsInf(e, 1) == inside {
						last = i
					}
					d[i] = int32(min(none, i-last))
				}
				last = none
				for i := len(row) - 1; i >= 0; i-- {
					if math.IsInf(row[i], 1) == inside {
						last = i
					}
					k := min(d[i], int32(min(none, last-i)))
					d[i] = k * k
				}
			}
		})
		par.For(b.fy, 16, func(lo, hi int) {
			for j := lo; j < hi; j++ {
				for i := range b.fx {
					q := j*b.fx + i
					if math.IsInf(b.entry[q], 1) == inside {
						continue
					}
					best := int32(near * near)
					for k := max(0, j-near); k <= min(b.fy-1, j+near); k++ {
						best = min(best, along[k*b.fx+i]+int32((k-j)*(k-j)))
					}
					d := (math.Sqrt(float64(best)) - 0.5) * b.f
					if inside {
						d = -d
					}
					b.dist[q] = d
				}
			}
		})
	}
}

// imprint finds the height in the imprint at each node: the lowest metal
// within one cell and the clearance, so that every triangle at the node stays
// under all metal above it; and whether the node lies in the imprint.
func (b *board) imprint() {
	n := b.nx * b.ny
	b.pit, b.phi = make([]float64, n), make([]float64, n)
	reach := b.h*math.Sqrt2 + b.in.Clearance
	rim := b.in.Clearance + b.f/math.Sqrt2
	k := int(math.Ceil(reach / b.f))
	par.For(b.ny, 8, func(lo, hi int) {
		for j := lo; j < hi; j++ {
			for i := range b.nx {
				q, c := j*b.nx+i, j*fine*b.fx+i*fine
				b.pit[q] = math.Inf(1)
				d := b.dist[c] - rim
				if b.dist[c] > reach {
					b.phi[q] = max(d, 0.1*b.h)
					continue
				}
				for y := max(0, j*fine-k); y <= min(b.fy-1, j*fine+k); y++ {
					for x := max(0, i*fine-k); x <= min(b.fx-1, i*fine+k); x++ {
						dx, dy := float64(x-i*fine)*b.f, float64(y-j*fine)*b.f
						if dx*dx+dy*dy <= reach*reach {
							b.pit[q] = min(b.pit[q], b.entry[y*b.fx+x])
						}
					}
				}
				// In the imprint where the rim is crossed and there is depth.
				shallow := min(b.h, max(-b.h, step-(b.out[q]-b.pit[q])))
				b.phi[q] = max(d, shallow)
				if b.phi[q] == 0 {
					b.phi[q] = 1e-9
				}
			}
		}
	})
	b.deepest = math.Inf(1)
	for q := range n {
		z := b.out[q]
		if b.phi[q] < 0 {
			b.deep = max(b.deep, z-b.pit[q])
			z = b.pit[q]
		}
		b.deepest = min(b.deepest, z)
	}
}
