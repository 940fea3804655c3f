// Package schedule gives operations their times: the shop's projects as one multi-project RCPSP with calendars and minimum
// and maximum time lags.
//
// A problem is projects of operations with durations, precedence with allowed windows, makers with skills, booths,
// benches and racks with capacities, working hours in the studio's time zone and what is already promised; the solution
// is a start for every operation. Work happens in working hours, in one shift or resumed after closing; a cure is an
// elapsed lag that needs nobody (a place on a rack perhaps) and runs on through nights and closed days. The grid is five
// minutes of UTC.
//
// It refuses cycles and windows that contradict each other, naming the operations and the windows. What always holds
// for a solution: no resource is used beyond its capacity, no minimum lag is shortened, no maximum lag is exceeded
// silently (Broken names it), no work lies in closed hours, work already promised keeps its place and what was begun or
// done stands as it was; package check, which shares nothing with this one, looks at every solution before it leaves, and
// what it refuses is a fault of the program and an error. The budget is a number of
// generated schedules, never seconds, and the seed is a field, so the same problem gives the same plan on any machine,
// whatever the number of workers.
//
// The temporal network is that of Bartusch, Möhring and Radermacher ("Scheduling project networks with resource
// constraints and time windows", Annals of OR 16, 1988): contradictions are its positive cycles, heads its longest
// paths. Schedules come from activity lists by serial and parallel schedule generation (Kolisch and Hartmann,
// "Heuristic algorithms for the RCPSP: classification and computational analysis", 1999); a window that would close is
// repaired by unscheduling back to the earlier operation and moving it (Franck, Neumann and Schwindt, "Truncated
// branch-and-bound, schedule-construction, and schedule-improvement procedures for resource-constrained project
// scheduling", OR Spektrum 23, 2001). Two populations of schedules, generated forward and backward, are bred from each other
// (Debels and Vanhoucke, "A decomposition-based genetic algorithm for the RCPSP", Operations Research 55, 2007), which justifies
// every child (Valls, Ballestín and Quintanilla, "Justification and RCPSP: a technique that pays", EJOR 165, 2005); crossover
// keeps a busy stretch of one parent together (the same, "A hybrid genetic algorithm for the RCPSP", EJOR 185, 2008).
// Bounds are the calendar's critical path, energy by kind of resource, and destructive
// improvement (Klein and Scholl, EJOR 112, 1999). Dates are those of the earliest-start policy (Igelmund and
// Radermacher, Networks 13, 1983) simulated with drawn durations: order and assignment stay, everything begins as soon
// as it can, except that no coat is begun whose next one is expected to miss its window, and that a coat whose window is
// about to close goes first.
//
// Where nothing but precedence and resources rules, as in a published project, time is a line and generation plain arithmetic; then
// the search also frees windows of the best schedule (Palpant, Artigues and Michelon, Annals of OR 131, 2004) and settles them, or
// the whole of a small problem, by propagation with learning (package proof), and begins large ones with lists sampled by regret
// (Drexl, Management Science 37, 1991). Starts tied by offsets are found by propagation alone; a search may then end with proof
// that there is no plan, or with neither. Where hours rule, propagation goes over those of the shop: it proves that a plan of one
// commission ends as early as any, or finds one that ends earlier.
//
// What a plan is wanted to be good in are objectives in an order, after what no plan may break; Objectives measures them, by the
// runs' dates, and the search sees stand-ins. A plan so far stays unless another is Better by them.
//
// More than WholeOperations are planned in windows of commissions in the order of their promises; what is placed outside the
// window stands. A plan that there is already is looked at again only where it ails, and no promise that it keeps is lost for
// another. What is too large even for that is refused in words.
//
// Small problems, such as a chain of coats or two on one booth, are solved exactly by branch and bound over windows, orders and
// resources, within a budget of steps: then no plan is better, and the lower bound of a problem without due dates is its end.
// Beyond that it is a heuristic: with order and assignment kept, a slower cure never gives an earlier date, but a search may
// answer it with another order.
package schedule
