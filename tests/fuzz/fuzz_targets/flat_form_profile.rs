#![no_main]
dovetally_fuzz::target!("flat-form-profile");
