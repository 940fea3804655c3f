// Package rcpsp schedules projects under scarce resources: the resource-constrained project scheduling problem (RCPSP)
// and its generalisation to minimum and maximum time lags (RCPSP/max), with makespan as the objective.
//
// Read takes the open formats .sm, .SCH and .rcp; Solve looks for a schedule and a lower bound; Instance.Check says
// what is wrong with a schedule, and no schedule leaves Solve unchecked; that check shares with what it checks: the instance
// as it was read, and none of the search. It refuses instances beyond its limits. It
// reads no clock and no file: a budget is a number of schedules, or whatever Options.Stop measures, and with a budget
// of schedules the same instance, seed and number of workers give the same result.
//
// Projects without maximum lags are searched by a bi-population genetic algorithm with serial schedule generation and
// double justification, then by time-window large-neighbourhood search, whose windows the exact solver settles. The
// exact solver also takes small projects whole, and all projects with maximum lags: it propagates temporal constraints
// (a simple temporal network, STN) and timetables of resources, and learns clauses from conflicts.
//
// References. Formats and instances: Patterson, Management Science 30 (1984); Kolisch & Sprecher, EJOR 96 (1996);
// Schwindt, Generation of resource-constrained project scheduling problems with minimal and maximal time lags,
// Karlsruhe (1996). Schedule generation: Kelley in Muth & Thompson, Industrial Scheduling (1963); Kolisch & Hartmann,
// Heuristic algorithms for the RCPSP, in Węglarz, Project Scheduling (1999). Sampling: Drexl, Management Science 37
// (1991). Justification: Valls, Ballestín & Quintanilla, EJOR 165 (2005). Genetic algorithms: the same, EJOR 185
// (2008); Debels & Vanhoucke, Operations Research 55 (2007). Windows: Palpant, Artigues & Michelon, Annals of
// Operations Research 131 (2004). Temporal networks: Dechter, Meiri & Pearl, Artificial Intelligence 49 (1991).
// Propagation with learning: Ohrimenko, Stuckey & Codish, Constraints 14 (2009); Schutt, Feydy, Stuckey & Wallace,
// Constraints 16 (2011) and Journal of Scheduling 16 (2013). Luby, Sinclair & Zuckerman, Information Processing
// Letters 47 (1993), for restarts.
package rcpsp
