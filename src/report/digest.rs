//! SHA-256 of inputs and results, in lower-case hex.

use crate::scenario::Scenario;
use sha2::{Digest, Sha256};
use std::fmt::Write;

/// The SHA-256 of `bytes` in hex.
pub fn sha256(bytes: &[u8]) -> String {
    let mut out = String::with_capacity(64);
    for byte in Sha256::digest(bytes) {
        // Writing to a string cannot fail.
        let _ = write!(out, "{byte:02x}");
    }
    out
}

/// The digest of an assessment's inputs: SHA-256 over the vehicle's digest in hex, a line feed, and the scenario in canonical
/// JSON (every key written out, keys sorted, no blanks) without `view` and `note`.
pub fn inputs(vehicle_digest: &str, scenario: &Scenario) -> String {
    sha256(format!("{vehicle_digest}\n{}", scenario.canonical()).as_bytes())
}
