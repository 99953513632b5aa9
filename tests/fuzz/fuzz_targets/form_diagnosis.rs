#![no_main]
dovetally_fuzz::target!("form-diagnosis");
