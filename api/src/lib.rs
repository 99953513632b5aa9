//! dovetally.
