#![no_main]
dovetally_fuzz::target!("control-limits");
