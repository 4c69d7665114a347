// Package chill answers how much heat metal loses while it runs into a mould,
// where it stops, and where two cooled fronts meet.
//
// Main function: New, which makes a State for the cells of a cavity. Step takes
// the heat that the metal brought along (J per cell, moved by whoever moves the
// metal) and does three things to it:
//
//	wall        q = (T - T_face)/(1/h_c + d/k), T_face that of a half space of rubber behind each patch of wall
//	conduction  between cells, explicit, in as many pieces as its limit asks
//	mush        drag K = 180 (1 - f)^2/(w^2 f^3), thickening below coherency, a stop above
//
// Walls are patches of the cavity's skin, each with its true area, one or more in
// a cell (FromMesh, FromShares). The half space is a sum of memories (memory.go)
// that starts when metal first touches the patch and goes on when it leaves and
// comes back. What leaves the metal is booked into the rubber as the same number.
//
// First, Last, Meetings, Stops and Misruns say when a cell was filled, where two
// fronts met and how cold they were, and where metal stopped. Hand gives volume and
// heat on to a heat.Run.
//
// Units: SI with degrees C; places in answers in mm. Same input, same bytes, on any
// number of cores.
//
// References: Carslaw & Jaeger, Conduction of Heat in Solids, 1959; Carman-Kozeny
// drag of a mush, e.g. Voller & Prakash 1987, Int. J. Heat Mass Transfer 30, 1709;
// Krieger & Dougherty 1959, Trans. Soc. Rheol. 3, 137. All from memory.
//
// Limits: rubber is thick against sqrt(alpha t), 1.3 mm after ten seconds; its
// values do not depend on temperature; heat does not flow along the skin; in a
// cell the metal is as warm as its mean. Good for five minutes.
package chill
