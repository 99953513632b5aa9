#![no_main]
dovetally_fuzz::target!("circular-form-profile");
