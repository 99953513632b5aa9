#![no_main]
dovetally_fuzz::target!("uncertainty-budget");
