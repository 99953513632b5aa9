#![no_main]
dovetally_fuzz::target!("capability");
