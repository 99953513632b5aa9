#![no_main]
dovetally_fuzz::target!("screw-travel");
