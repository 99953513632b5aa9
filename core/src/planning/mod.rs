//! Planning: which serial numbers serve which job, what is missing and why, and what is kept for whom.
//!
//! # The matching problem
//!
//! *Given* are jobs, each with a window of whole days (first day to last day) and a number of pieces still to make. At
//! each of its stations a job needs a tool of one design and a holder of one style. A tool has so many pieces left on
//! its edge. A lot that is longer than one edge takes several tools, one after the other. An item serves one job on one
//! day: two jobs whose windows share a day never share an item, whatever their hours. Some items do not serve some jobs
//! at all: in no condition to be used, with the grinder, kept for another part, booked, due for a check before the run
//! ends, facing the wrong way.
//!
//! *Wanted* is a set of items for as many needs as possible, so that
//!
//! 1. earlier jobs go first: of two answers the better is the one that serves the first need on which they differ,
//!    needs taken in the order of planned start, then job number, then station. No need goes without for the sake of a
//!    later one, and none is left out that could be served beside those before it;
//! 2. among these, the least life is wasted in all (below);
//! 3. what is still equal is settled by trying what serves the fewest other needs first, then by code: the same records
//!    always give the same answer.
//!
//! *Waste* is counted in pieces. A lot that is cut on edges which had `e₁ + e₂ + …` pieces left wastes what is left on
//! them at its end, `Σe − lot`: an edge that was begun is seldom trusted with the next lot, and has to be set up and
//! proven again if it is. So a worn edge that suffices goes before a fresh one, and no fresh edge is broken for a short
//! lot. Every change of tools within the lot counts as a tenth of a fresh edge besides, because the station is set and
//! proven anew: five nearly spent tools are no bargain. If the lot may wait for grinding, edges that grinding gives are
//! used whole after those that are there, each again one change.
//!
//! A machine's gauge is no part of the matching: it belongs to one machine, and serves whatever runs there.
//!
//! # How it is solved
//!
//! Needs of different designs never want the same tool, nor needs of different styles the same holder: each design and
//! each style is a problem of its own, and so is each run of days in which windows hang together. Within one the search
//! is a branch and bound over the needs in order ([`matching`]). A tool is free for a need when the last day of the
//! needs it was given before lies before its first day, so that what is left to decide depends only on which tools are
//! free; tools alike in life and use are tried once. Covering one lot with least waste is a subset sum, and two
//! machines with given free days make interval scheduling NP-hard: the worst case is exponential in the number of needs
//! and tools of *one* design in *one* run of days, `O(∏ covers(need))`. Real shops have a handful there, and the bounds
//! settle them in few steps. The work is bounded ([`matching::EFFORT`]); if the bound is reached the best answer found
//! is given, and `exact` is false.

pub mod booking;
pub mod candidate;
pub mod examine;
pub mod matching;
pub mod needs;
pub mod plan;
pub mod report;
#[cfg(test)]
mod tests;
pub mod window;
