//! The life of form tools: grinds, checks, edges, whose a tool is, and how much is left.
//!
//! # Words
//!
//! - An *edge* is what a tool cuts with between two full grinds. It ends *worn* (a failure of the edge), *early* (ground
//!   before it was worn), *damaged*, or *retired* with its tool. Of every edge that did not wear out, and of the edge in
//!   use, it is only known that it would have lasted longer: a suspension.
//! - A *full* grind makes a new edge. A *touch-up* takes no height: the pieces on the edge keep counting and the count of
//!   grinds stays. A *partial* grind takes height, and with it raises the count, but leaves some of the wear: the pieces
//!   on the edge keep counting. However an edge ends that was partly ground, it counts as a suspension, for it is not one
//!   edge's life.
//! - A circular tool's *height* is the arc that is left of it along the periphery, at the tool's radius, in picometres as
//!   any height; its *usable angle* is the arc beyond the design's minimum over that radius. It is what people measure
//!   and are told.

pub mod arc;
pub mod check;
pub mod edge;
#[cfg(test)]
mod example;
pub mod facts;
pub mod geometry;
pub mod grinds;
pub mod learned;
pub mod left;
pub mod measure;
pub mod ownership;
pub mod regrind;
pub mod supply;
pub mod traveller;
