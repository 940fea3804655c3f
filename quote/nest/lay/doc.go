// Package lay puts outlines on sheets, offcuts and strips.
//
// Problem in, solution out; the budget of Solve is a number of evaluations, never seconds, and how many searchers run
// side by side is part of the problem, so that the same problem gives the same layout on any machine and a quote's
// picture can be made again byte for byte. One evaluation tries one place for one piece. The first layout is made
// whatever the budget, and a round under way is finished, so a solution may count some more than the budget. True
// outlines are used, not boxes; holes are not filled with other pieces. Goals in order: everything placed, the price
// of the sheets, and the last sheet's pieces gathered at its start, so that what remains of it is one offcut, which is
// returned.
//
// It refuses a piece that fits on no sheet in the stock, by name, with its size and the nearest sheet. What always
// holds for a solution: every item is placed as often as demanded, inside its sheet less the margin, clear of the
// sheet's defects, turned and mirrored only as allowed, no two pieces on a sheet are nearer than the gap and the kerf,
// and none overlap, by an exact test of the coordinates given out; package inspect looks at every solution before it leaves.
//
// Pieces are packed from x = 0 on; the sheet with the offcut is the last one, and its offcut is the far end. The search
// is in package search, the exact test in package exact.
package lay
