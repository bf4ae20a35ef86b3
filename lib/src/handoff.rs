//! What is handed on to post: the plan of a hand-off, the look taken apart into transforms from and to ACES, so that an AMF
//! can point to them, and the list by which a received folder is checked.
//!
//! Nothing here touches a disk.

mod aces;
pub mod archive;
mod list;
mod plan;
mod transforms;

pub use aces::{Aces, AcesFiles};
pub use list::{
    Difference, FileRecord, LIST, Listed, MANIFEST, Manifest, ManifestList, SCHEMA, SUMS, is_of_a_system,
    parse_manifest, parse_sums, safe_name, schema, sums,
};
pub use plan::{About, CubeFiles, FOLDERS, File, Plan};
pub use transforms::{Chain, input, look, output, part_points};
