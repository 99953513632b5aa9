//! dovetally.

fn main() {}
