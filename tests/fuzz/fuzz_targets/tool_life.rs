#![no_main]
dovetally_fuzz::target!("tool-life");
