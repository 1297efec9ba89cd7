//! `histories.parquet`: every tile's temperatures over time, a row an entry, tile and time, for table tools and their distributed kin.
//!
//! Columns `entry, tile` (text), `time_s` (from entry interface), `surface_k, bondline_k, structure_k`. A tile with a stack has the ends of its solver's
//! steps from entry interface to the end of the soak-back, its surface the face of the transient. A tile without one, or without a valid answer,
//! has its equilibrium surface over the entry and no value below. A row group holds a slice of tiles of one entry, so that memory stays small
//! and the bytes do not depend on the number of processors.

use super::depth::sliced;
use crate::assess::depth::{Setup, TileDepth};
use crate::assess::surface;
use crate::document::Error;
use parquet::basic::Compression;
use parquet::column::writer::ColumnWriter;
use parquet::data_type::ByteArray;
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::parser::parse_message_type;
use std::sync::Arc;

const SCHEMA: &str = "message histories {
    required binary entry (UTF8); required binary tile (UTF8); required double time_s;
    required double surface_k; optional double bondline_k; optional double structure_k;
}";

/// Tiles of a row group.
const GROUP: usize = 256;

/// One tile over one entry.
struct Story {
    times_s: Vec<f64>,
    surface_k: Vec<f64>,
    /// Glue line and structure.
    below_k: Option<[Vec<f64>; 2]>,
}

fn story(setup: &Setup, depth: &[Option<TileDepth>], entry: usize, tile: usize) -> Story {
    let valid = depth.get(tile).and_then(Option::as_ref).is_some_and(|depth| depth.failure().is_none());
    match setup.history(entry, tile).filter(|_| valid) {
        Some(history) => {
            Story { surface_k: history.face_k(), below_k: Some([history.bondline_k(), history.structure_k()]), times_s: history.times_s }
        }
        None => {
            let rows = surface::history(setup.prepared, entry, tile);
            Story {
                times_s: rows.iter().map(|row| row.time_s).collect(),
                surface_k: rows.iter().map(|row| row.surface_k).collect(),
                below_k: None,
            }
        }
    }
}

/// The file's bytes.
///
/// # Errors
/// A failed computation where the library cannot write.
pub fn bytes(setup: &Setup, depth: &[Option<TileDepth>]) -> Result<Vec<u8>, Error> {
    written(setup, depth).map_err(|error| Error::failed(format!("histories.parquet cannot be written: {error}")))
}

fn written(setup: &Setup, depth: &[Option<TileDepth>]) -> Result<Vec<u8>, ParquetError> {
    let properties = WriterProperties::builder().set_compression(Compression::SNAPPY).set_created_by("tileglow".to_string()).build();
    let mut out = Vec::new();
    let mut file = SerializedFileWriter::new(&mut out, Arc::new(parse_message_type(SCHEMA)?), Arc::new(properties))?;
    let tiles = setup.shield.tiles.len();
    for (entry, flight) in setup.prepared.flights.iter().enumerate() {
        let name = ByteArray::from(flight.name.as_str());
        for first in (0..tiles).step_by(GROUP) {
            let count = GROUP.min(tiles - first);
            let stories = sliced(count, |slice| slice.iter().map(|at| story(setup, depth, entry, first + at)).collect());
            let ids = setup.shield.tiles.iter().skip(first).map(|tile| ByteArray::from(tile.id.as_str()));
            let mut text: [Vec<ByteArray>; 2] = [Vec::new(), Vec::new()];
            for (id, story) in ids.zip(&stories) {
                text[0].extend(story.times_s.iter().map(|_| name.clone()));
                text[1].extend(story.times_s.iter().map(|_| id.clone()));
            }
            let numbers: [Vec<f64>; 2] = [
                stories.iter().flat_map(|story| story.times_s.iter().copied()).collect(),
                stories.iter().flat_map(|story| story.surface_k.iter().copied()).collect(),
            ];
            let below = [0, 1].map(|layer| -> Vec<f64> {
                stories.iter().filter_map(|story| story.below_k.as_ref()).flat_map(|both| both[layer].iter().copied()).collect()
            });
            let present: Vec<i16> =
                stories.iter().flat_map(|story| vec![i16::from(story.below_k.is_some()); story.times_s.len()]).collect();
            let mut group = file.next_row_group()?;
            let mut column = 0;
            while let Some(mut writer) = group.next_column()? {
                match writer.untyped() {
                    ColumnWriter::ByteArrayColumnWriter(writer) => {
                        writer.write_batch(text.get(column).map_or(&[], Vec::as_slice), None, None)?;
                    }
                    ColumnWriter::DoubleColumnWriter(writer) => match column {
                        2 | 3 => {
                            writer.write_batch(&numbers[column - 2], None, None)?;
                        }
                        _ => {
                            writer.write_batch(&below[usize::from(column > 4)], Some(&present), None)?;
                        }
                    },
                    _ => return Err(ParquetError::General("a column of an unexpected type".to_string())),
                }
                writer.close()?;
                column += 1;
            }
            group.close()?;
        }
    }
    file.close()?;
    Ok(out)
}
