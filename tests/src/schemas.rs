//! Published XML schemas of others, which are no part of the project: used where they lie beside it.

use std::path::{Path, PathBuf};
use std::process::Command;

/// A published schema.
#[derive(Debug, Clone, Copy)]
pub enum Schema {
    /// The ASC's schema of CDL files, version 1.01.
    Cdl,
    /// The Academy's schema of ACES Metadata Files, version 2.0.
    Amf,
}

/// The folder of the schemas; none, with a word on it, where they or xmllint are not there.
fn folder() -> Option<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared/references/schemas");
    let missing = if !folder.is_dir() {
        "the published schemas are"
    } else if Command::new("xmllint").arg("--version").output().is_err() {
        "xmllint is"
    } else {
        return Some(folder);
    };
    eprintln!("skipped: {missing} not here");
    None
}

/// Asserts that xmllint finds each of the files valid; says "skipped" where the schemas are not there.
pub fn assert_valid<'f>(schema: Schema, files: impl IntoIterator<Item = (&'f str, &'f [u8])>) {
    let Some(from) = folder() else { return };
    let dir = tempfile::tempdir().unwrap();
    // The Academy's schema looks for the other one a folder above itself.
    let below = dir.path().join("amf");
    std::fs::create_dir(&below).unwrap();
    for name in ["acesMetadataFile.xsd", "st433b-2008-am1-2011.xsd", "xmldsig-core-schema.xsd"] {
        std::fs::copy(from.join(name), below.join(name)).unwrap();
    }
    let cdl = dir.path().join("ASC-CDL_schema_v1.01.xsd");
    std::fs::copy(from.join("ASC-CDL_schema_v1.01.xsd"), &cdl).unwrap();
    let schema = match schema {
        Schema::Cdl => cdl,
        Schema::Amf => below.join("acesMetadataFile.xsd"),
    };
    for (name, bytes) in files {
        let file = dir.path().join("file.xml");
        std::fs::write(&file, bytes).unwrap();
        let said = Command::new("xmllint").args(["--noout", "--nonet", "--schema"]).arg(&schema).arg(&file).output();
        let said = said.unwrap();
        assert!(said.status.success(), "{name}: {}", String::from_utf8_lossy(&said.stderr));
    }
}
