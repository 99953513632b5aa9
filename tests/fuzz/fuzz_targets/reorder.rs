#![no_main]
dovetally_fuzz::target!("reorder");
