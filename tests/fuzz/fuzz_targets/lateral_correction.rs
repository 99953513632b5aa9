#![no_main]
dovetally_fuzz::target!("lateral-correction");
