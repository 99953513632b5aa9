#![no_main]
dovetally_fuzz::target!("bar-stock");
