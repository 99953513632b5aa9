#![no_main]
dovetally_fuzz::target!("gauge-conformity");
