#![no_main]
dovetally_fuzz::target!("intermittent-demand");
