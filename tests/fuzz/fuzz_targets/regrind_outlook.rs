#![no_main]
dovetally_fuzz::target!("regrind-outlook");
