//! What goes wrong: full disks, kills, files that mean harm, numbers that no camera gives, edits that must not be lost
//! (tests/RELIABILITY.md).
//! One file: `cargo test --workspace --test robustness faults::`.

mod faults;
mod hostile;
mod numbers;
mod overwrite;
mod preview_lost;
mod preview_shots;
