//! What is handed on to post: the look taken apart into transforms from and to ACES, so that an AMF can point to them, and
//! the list by which a received folder is checked.
//!
//! Nothing here touches a disk.

mod list;
mod transforms;

pub use list::{Difference, FileRecord, LIST, MANIFEST, SCHEMA, SUMS, parse_sums, safe_name, sums};
pub use transforms::{Chain, input, look, output, part_points};
