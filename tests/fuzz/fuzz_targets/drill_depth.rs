#![no_main]
dovetally_fuzz::target!("drill-depth");
