//! Planning: which serial numbers serve which job, what is missing and why, and what is kept for whom.
//!
//! # The matching problem
//!
//! *Given* are needs, in order: by planned start, then job number, then station. Each has a window of whole days and a
//! number of pieces still to make, and wants tools of one design or a holder of one style. An item has pieces left on its
//! edge and, where grinding is allowed for, so many grinds, each of which gives a fresh edge. Some items do not serve some
//! needs at all: in no condition to be used, with the grinder, kept for another part, booked, due for a check before the
//! run ends, facing the wrong way.
//!
//! *To be decided* is for each need the set of items that it is given, or that it goes without.
//!
//! *What holds.*
//!
//! 1. An item is given only where it serves.
//! 2. It serves one need on one day: two needs whose windows share a day never share an item, whatever their hours.
//! 3. What a lot is made with is used up. A need has of each item what the needs before it left; a holder is not used up.
//!    A lot takes the shortest edges first, each to its end, so that what is left over is left on the longest; where all
//!    edges together do not make it, the rest comes from grinding, of the items with the most grinds left first.
//! 4. A set makes the whole lot, and none of its items could be left out for the edges of the others.
//! 5. What is kept for a need, booked or in its setup, is used there first, before anything is decided: what it makes is
//!    gone for all others, and on those days it is free for none. Two that keep one item have it in their order.
//!
//! *Wanted* is the answer that is best in this order:
//!
//! 1. who is served: of two answers the better serves the first need on which they differ. No need goes without for the
//!    sake of a later one, and none is left out that could be served beside those before it;
//! 2. what each is given, the first need first: the set that wastes least, then that whose items serve the fewest needs,
//!    then that of which the fewest are in another machine's open setup, the fewest are out, and the fewest are to be
//!    fetched from their places instead of standing in this machine, then by code. A need takes another than the set that
//!    it prefers only where a need would else go without: what is planned for tomorrow does not change for the sake of
//!    what a job next month would waste.
//!
//! *Waste* is counted in pieces. A lot that is cut on edges which had `e₁ + e₂ + …` pieces left wastes what is left on
//! them at its end, `Σe − lot`: an edge that was begun has to be set up and proven again before it makes another lot. So a
//! worn edge that suffices goes before a fresh one, and no fresh edge is broken for a short lot. Every change of tools
//! within the lot counts as a tenth of a fresh edge besides, because the station is set and proven anew: five nearly spent
//! tools are no bargain. Edges from grinding are counted the same way, each one change.
//!
//! No grind is foreseen unless it is asked for: while a tool is at the grinder its machine stands, and between two jobs
//! nobody has said yet that there is time. A job that finds nothing left sees who uses it up before.
//!
//! A machine's gauge is no part of the matching: it belongs to one machine, and serves whatever runs there.
//!
//! # How it is solved
//!
//! Needs of different designs never want the same tool, nor needs of different styles the same holder: each design and
//! each style is a problem of its own, and for holders so is each run of days in which windows hang together. Within one,
//! needs are decided in their order, each with its sets as they are preferred ([`matching`]). The first answer found is
//! the preferred one of all that serve the same needs; beyond it only answers are looked for that serve a need which it
//! leaves out, and only where pieces and numbers, on that need's first day and over all days, do not rule them out.
//! Making one lot with least waste is a subset sum, and items with free days of their own make interval scheduling
//! NP-hard: the worst case is exponential in the number of needs and items of *one* design, `O(∏ covers(need))`. Real
//! shops have some tens there, and where everything can be served there is nothing to search but each need's own sets.
//! The work is bounded ([`matching::EFFORT`]); if the bound is reached the best answer found is given, and `exact` is
//! false.

pub mod booking;
pub mod candidate;
pub mod examine;
pub mod matching;
pub mod needs;
pub mod outlook;
pub mod plan;
pub mod report;
#[cfg(test)]
pub(crate) mod tests;
pub mod window;
