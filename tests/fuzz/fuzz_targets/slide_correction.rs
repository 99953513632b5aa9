#![no_main]
dovetally_fuzz::target!("slide-correction");
