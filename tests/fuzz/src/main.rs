//! One program with every target: `RUSHLIGHT_FUZZ` names the one to run, the arguments are libFuzzer's.

#![no_main]

use libfuzzer_sys::fuzz_target;
use std::sync::OnceLock;

mod targets;

fn target() -> fn(&[u8]) {
    static TARGET: OnceLock<fn(&[u8])> = OnceLock::new();
    *TARGET.get_or_init(|| {
        let name = std::env::var("RUSHLIGHT_FUZZ").unwrap_or_default();
        match targets::TARGETS.iter().find(|t| t.name == name) {
            Some(target) => target.run,
            None => {
                let names: Vec<&str> = targets::TARGETS.iter().map(|t| t.name).collect();
                panic!("RUSHLIGHT_FUZZ names a target: {}", names.join(", "))
            }
        }
    })
}

fuzz_target!(|bytes: &[u8]| target()(bytes));
