//! Bytes that nobody meant: whatever comes, a loader answers with a vehicle or with problems.

use super::{FINDINGS, NAMED, TILES, file, glb_of, load, named_bytes, row_glb, two, zip_of};
use crate::shield::files::TABLE;
use proptest::prelude::*;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// No bytes make a loader panic: good files with some bytes changed, cut or repeated.
    #[test]
    fn verif_no_bytes_panic(which in 0usize..6, edits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..8), cut in any::<prop::sample::Index>(), shorten in any::<bool>()) {
        let tiles = TILES.as_bytes().to_vec();
        let (name, mut bytes) = match which {
            0 => ("vehicle.glb", row_glb(true)),
            1 => ("vehicle.glb", glb_of(NAMED, &named_bytes())),
            2 => ("vehicle.obj", two("none", "4 3 6 5").into_bytes()),
            3 => ("ship.zip", zip_of(&[file("vehicle.glb", row_glb(true)), file("tiles.csv", TILES)], "a/").bytes),
            4 => ("tiles.csv", tiles.clone()),
            _ => ("findings.csv", FINDINGS.as_bytes().to_vec()),
        };
        for (at, byte) in &edits {
            let at = at.index(bytes.len());
            bytes[at] = *byte;
        }
        if shorten {
            bytes.truncate(cut.index(bytes.len()));
        }
        let mut files = vec![file(name, bytes)];
        if which > 3 {
            files.push(file("vehicle.glb", row_glb(true)));
        }
        if which == 5 || which == 2 {
            files.push(file("tiles.csv", tiles));
        }
        let _ = load(&files, "x");
    }

    /// Digits of the JSON chunk replaced by other digits: wrong indices, lengths, offsets and types everywhere.
    #[test]
    fn verif_no_numbers_panic(which in any::<bool>(), edits in prop::collection::vec((any::<prop::sample::Index>(), b'0'..=b'9'), 1..6)) {
        let mut bytes = if which { row_glb(true) } else { glb_of(NAMED, &named_bytes()) };
        let end = 20 + u32::from_le_bytes([bytes[12], bytes[13], bytes[14], bytes[15]]) as usize;
        let digits: Vec<usize> = (20..end).filter(|i| bytes[*i].is_ascii_digit()).collect();
        for (at, digit) in &edits {
            bytes[digits[at.index(digits.len())]] = *digit;
        }
        let _ = load(&[file("vehicle.glb", bytes), file("tiles.csv", TILES)], "x");
    }

    #[test]
    fn verif_any_bytes_are_no_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        for name in TABLE {
            let _ = load(&[file("vehicle.glb", row_glb(true)), file(name, bytes.clone())], "x");
            let _ = load(&[file(name, bytes.clone())], "x");
        }
    }
}
