// Package search looks for tight layouts by letting pieces overlap and then driving them apart.
//
// A layout may overlap while it is being improved. How badly two pieces overlap is a smooth measure computed from circles
// inscribed in them. Guided local search keeps a weight for each pair that grows as long as the pair collides, and moves
// one colliding piece at a time to the best of places sampled near, far and corner to corner; the best few are refined by
// descent along axes. A strip, or the last sheet, is shortened a little and separated again, over and over; sheets are
// saved by choosing cheaper ones and separating what then overlaps; sheets that pieces fill without waste are found by
// exact fit. The method is from the literature: Umetani et al., "Solving the irregular strip packing problem via guided
// local search for overlap minimization" (2009); Elkeran, "A new approach for sheet nesting problem using guided cuckoo
// search and pairwise clustering" (2013); Gardeyn, Vanden Berghe and Wauters, arXiv 2509.13329 (2025).
//
// Sheets lie side by side in one plane, so that one search serves strips, sheets and offcuts. What an offcut lacks of its
// rectangle, and defects, are pieces that do not move. Outlines are grown outwards once by half the gap, never too little,
// and are simplified only outwards.
//
// It refuses nothing: callers make sure that every piece fits on some field, except for pieces that come back as left. What
// always holds: a result depends only on the pieces, the fields, the seed, the number of workers and what the budget
// returns, not on the number of cores or on a processor's fused arithmetic, since products are rounded before they are
// added; a reported layout has no overlap that floating point can detect; a worker's pass over the pieces allocates no
// memory. It knows no unit: scaled input gives the same layout scaled, apart from rounding.
package search
