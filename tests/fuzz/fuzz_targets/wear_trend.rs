#![no_main]
dovetally_fuzz::target!("wear-trend");
