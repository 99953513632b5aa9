#![no_main]
dovetally_fuzz::target!("mtbf");
