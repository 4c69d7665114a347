// Package material answers what an alloy or a rubber is: its temperatures,
// densities, heat, strength and shrinkage, each value with its source, its
// grade and whether it is from memory.
//
// Main functions: FindAlloy and FindRubber by row name, Alloys and Rubbers for
// the whole tables, Set to put a value of the user's own data sheet in place.
//
// Units of the fields: SI with degrees C (kg/m3, J/kg, J/(kg K), W/(m K), Pa s,
// N/m, s); shares, strains and shrinkages 0..1. The tables under data/ keep the
// unit of the source beside each value; one list (properties.go) converts.
//
// Grades: A+ computed exactly or two independent sources agree, A a standard,
// handbook or paper, B one secondary source or computed from assessed data, C
// commonly quoted from memory, D estimate. Where a value has no range beside
// it, its grade stands for one: 0.5, 2, 5, 15, 30 % either way (a convention
// of this package).
//
// Limits: alloys of tin, lead, bismuth, antimony, copper and cadmium as listed;
// zinc alloys are poured at 400-430 C, outside silicone rubber, and are not in
// the table. The rubber rows are points of our own inside class ranges from
// memory: they name no product and give way to the user's data sheet.
package material
