// Package pressure answers which pressure makes a flow in cut cells free of divergence:
// one symmetric system per step, of cells that are metal and of pockets of air.
//
// Main function: Solver.Solve, conjugate gradients with one multigrid cycle for each
// iteration. Plain solves the same with a symmetric Gauss-Seidel sweep instead.
//
//	cells     d_i x_i - sum_j w_ij x_j - sum_k w_ik y_k = b_i
//	pockets   D_k y_k - sum_i w_ik x_i                  = b_k
//
// d_i is at least the sum of the w of row i; where it is just that, all over a connected
// part, the part is known but for a constant and b must have no sum there.
//
// The cycle is V(1,1) of red-black Gauss-Seidel in float32 on aggregates of 2 x 2 x 2 cells;
// parts of such a block that are not linked within it stay apart, so that nothing is carried
// through a wall. The coarse correction counts 1.8 fold (Braess, Computing 55 (1995) 379). Red before black
// on the way down and black before red on the way up keep it symmetric. Pockets are rows
// of every level, joined with nothing.
//
// References: Shewchuk's notes on conjugate gradients (1994); Notay, Electron. Trans. Numer. Anal. 37
// (2010) 123, aggregation; from memory.
package pressure
