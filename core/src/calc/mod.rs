//! Corrections and calculations.
