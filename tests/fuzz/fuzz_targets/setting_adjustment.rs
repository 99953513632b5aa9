#![no_main]
dovetally_fuzz::target!("setting-adjustment");
