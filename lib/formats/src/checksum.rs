//! SHA-256 (FIPS 180-4), by which files are known again.

use sha2::{Digest, Sha256};

/// SHA-256 in hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    let mut hasher = Hasher::default();
    hasher.add(bytes);
    hasher.finish()
}

/// The 32 bytes of SHA-256.
pub fn digest(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// SHA-256 of bytes that come one after the other.
#[derive(Debug, Clone, Default)]
pub struct Hasher(Sha256);

impl Hasher {
    /// Takes the next bytes.
    pub fn add(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// The checksum, in hexadecimal.
    pub fn finish(self) -> String {
        self.0.finalize().iter().map(|b| format!("{b:02x}")).collect()
    }
}
