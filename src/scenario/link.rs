//! The link: `#v1.` + base64url without padding of the raw deflate stream of the short document, then optionally `.` and the
//! first 16 hex digits of the results' digest.

use super::{NamedEntry, Scenario};
use crate::document::Error;
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use std::io::{Read, Write};

/// What a link may hold before it is unpacked, and after.
pub const PACKED_MOST: usize = 64 << 10;
pub const UNPACKED_MOST: u64 = 4 << 20;
/// Past this length the page offers the scenario file instead.
pub const OFFERED_MOST: usize = 8 << 10;

/// An opened link.
#[derive(Debug, Clone, PartialEq)]
pub struct Opened {
    pub scenario: Scenario,
    /// The first 16 hex digits of the sender's results digest.
    pub digest: Option<String>,
}

/// The fragment, with its `#`, that opens to `scenario`; `results_digest` is the whole hex digest.
pub fn write(scenario: &Scenario, results_digest: Option<&str>) -> String {
    let mut packer = flate2::write::DeflateEncoder::new(Vec::new(), flate2::Compression::best());
    // Writing to memory cannot fail.
    let _ = packer.write_all(scenario.to_short_json().compact().as_bytes());
    let packed = packer.finish().unwrap_or_default();
    let mut link = format!("#v1.{}", URL_SAFE_NO_PAD.encode(packed));
    if let Some(digest) = results_digest.and_then(|digest| digest.get(..16)) {
        link.push('.');
        link.push_str(digest);
    }
    link
}

/// Opens a fragment (with or without `#`).
///
/// # Errors
/// Bad input for another version, broken base64 or deflate, more than 64 kB in or 4 MB out, or a document that is refused.
pub fn open(fragment: &str, base: &[NamedEntry]) -> Result<Opened, Error> {
    let body = fragment.strip_prefix('#').unwrap_or(fragment);
    let Some(body) = body.strip_prefix("v1.") else {
        let start: String = body.chars().take(12).collect();
        return Err(Error::bad(format!("the link begins with {start:?}, a version that this page does not read"), "#v1.…"));
    };
    if body.len() > PACKED_MOST {
        return Err(Error::bad(format!("the link holds {} characters", body.len()), format!("at most {PACKED_MOST}")));
    }
    let (packed, digest) = match body.split_once('.') {
        Some((packed, digest)) => (packed, Some(digest)),
        None => (body, None),
    };
    if let Some(digest) = digest.filter(|digest| digest.len() != 16 || !digest.bytes().all(|b| b.is_ascii_hexdigit())) {
        return Err(Error::bad(format!("the link's digest {digest:?} is cut or wrong"), "16 hex digits"));
    }
    let packed = URL_SAFE_NO_PAD
        .decode(packed)
        .map_err(|error| Error::bad(format!("the link is cut or broken: {error}"), "base64url without padding"))?;
    let mut text = String::new();
    let mut unpacker = flate2::read::DeflateDecoder::new(packed.as_slice()).take(UNPACKED_MOST + 1);
    unpacker
        .read_to_string(&mut text)
        .map_err(|error| Error::bad(format!("the link is cut or broken: {error}"), "a raw deflate stream of UTF-8 text"))?;
    if text.len() as u64 > UNPACKED_MOST {
        return Err(Error::bad("the link unpacks to more than 4 MB", "at most 4 MB"));
    }
    Ok(Opened { scenario: Scenario::read("the link", &text, base)?, digest: digest.map(str::to_ascii_lowercase) })
}
