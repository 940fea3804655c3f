// Package proof finds starts for work that shares resources, or proves that there are none: constraint propagation with
// learning.
//
// A Search is told pieces of work with durations and the moments between which they start, least distances between starts, also
// negative ones, and resources with capacities, all in steps of the grid; it looks for starts with an early end of all work.
// What it says is proved: an end is a lower bound, and where nothing better is left, that is so. It refuses nothing; rules that
// contradict each other have no schedule. It reads no clock: a budget is a number of conflicts or placements, or whatever stop
// measures, and the same rules, seed and budget give the same schedule.
//
// Its state is a simple temporal network (Dechter, Meiri & Pearl, Artificial Intelligence 49, 1991) and timetables of resources;
// it is lazy clause generation for scheduling (Ohrimenko, Stuckey & Codish, Constraints 14, 2009; Schutt, Feydy, Stuckey &
// Wallace, Constraints 16, 2011, and Journal of Scheduling 16, 2013), restarted by Luby's sequence (Luby, Sinclair & Zuckerman,
// Information Processing Letters 47, 1993).
package proof
