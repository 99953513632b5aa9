#![no_main]
dovetally_fuzz::target!("life-distribution");
