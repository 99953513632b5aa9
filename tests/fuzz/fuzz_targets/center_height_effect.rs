#![no_main]
dovetally_fuzz::target!("center-height-effect");
