//! What a surface file says: triangles, whose each of them is, and the table that came with them.

use super::NO_TILE;
use super::table::TileRow;
use crate::document::Problems;
use crate::document::csv::CsvTable;
use glam::DVec3;
use std::collections::{HashMap, HashSet};

/// The name of a group or node that is surface without a tile.
pub const PLAIN: &str = "none";

/// Whose a triangle is, before the tile table is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    Plain,
    /// Index into `Surface::names`.
    Name(u32),
    /// A row of the surface's own table where that has the property `tile`, else of tiles.csv; zero-based.
    Row(u32),
}

/// A surface as its file gives it, node transforms applied.
#[derive(Debug, Clone, Default)]
pub struct Surface {
    pub file: String,
    pub positions: Vec<DVec3>,
    pub triangles: Vec<[u32; 3]>,
    /// As long as `triangles`.
    pub owner: Vec<Owner>,
    pub names: Vec<String>,
    /// The property table, empty cells where it has no data.
    pub table: Option<CsvTable>,
}

impl Surface {
    /// For each triangle the index of its row in `rows`, or `NO_TILE`. A surface that names a tile which the table lacks and a row
    /// without surface are problems with the first ten names and the count.
    pub fn owners(&self, rows: &[TileRow], table_file: &str, problems: &mut Problems) -> Vec<u32> {
        let by_id: HashMap<&str, u32> = rows.iter().enumerate().map(|(i, row)| (row.id.as_str(), i as u32)).collect();
        let names: Vec<Option<u32>> = self.names.iter().map(|name| by_id.get(name.as_str()).copied()).collect();
        let joined = self.table.as_ref().and_then(|table| table.column("tile").map(|column| (table, column)));
        let own_rows: Option<Vec<Option<u32>>> = joined
            .map(|(table, column)| table.rows.iter().map(|row| row.get(column).and_then(|id| by_id.get(id.as_str()).copied())).collect());
        let mut unknown: Vec<String> = Vec::new();
        let mut told_name = vec![false; names.len()];
        let mut told_row: HashSet<u32> = HashSet::new();
        let mut covered = vec![false; rows.len()];
        let mut owners = Vec::with_capacity(self.owner.len());
        for owner in &self.owner {
            let found = match *owner {
                Owner::Plain => {
                    owners.push(NO_TILE);
                    continue;
                }
                Owner::Name(i) => names.get(i as usize).copied().flatten(),
                Owner::Row(row) => match &own_rows {
                    Some(own_rows) => own_rows.get(row as usize).copied().flatten(),
                    None => ((row as usize) < rows.len()).then_some(row),
                },
            };
            match (found, *owner) {
                (Some(tile), _) => {
                    if let Some(covered) = covered.get_mut(tile as usize) {
                        *covered = true;
                    }
                    owners.push(tile);
                }
                (None, Owner::Name(i)) => {
                    owners.push(NO_TILE);
                    if let Some(told) = told_name.get_mut(i as usize)
                        && !std::mem::replace(told, true)
                    {
                        unknown.push(format!("{:?}", self.names[i as usize]));
                    }
                }
                (None, Owner::Row(row)) => {
                    owners.push(NO_TILE);
                    if told_row.insert(row) {
                        let id = joined.and_then(|(table, column)| table.rows.get(row as usize).and_then(|cells| cells.get(column)));
                        unknown.push(id.map_or(format!("feature id {row}"), |id| format!("{id:?} (feature id {row})")));
                    }
                }
                (None, Owner::Plain) => {}
            }
        }
        if !unknown.is_empty() {
            let accepted = match (&self.owner.iter().any(|owner| matches!(owner, Owner::Row(_))), &own_rows) {
                (true, None) => format!("feature ids from 0 to {}, the rows of {table_file}", rows.len().saturating_sub(1)),
                _ => format!("the tiles of {table_file}, or {PLAIN:?} for surface without a tile"),
            };
            problems.at_key(
                "",
                format!("the surface names {} that {table_file} lacks: {}", count(unknown.len()), first_ten(&unknown)),
                accepted,
            );
        }
        let bare: Vec<String> =
            rows.iter().zip(&covered).filter(|(_, covered)| !**covered).map(|(row, _)| format!("{:?} (row {})", row.id, row.row)).collect();
        if !bare.is_empty() {
            let what = format!("{} of {table_file} without surface: {}", count(bare.len()), first_ten(&bare));
            problems.at_key("", what, "a surface for every row of the table");
        }
        owners
    }
}

fn count(n: usize) -> String {
    if n == 1 { "1 tile".to_string() } else { format!("{n} tiles") }
}

/// The first ten of a list, and how many there are where that is more.
pub fn first_ten(names: &[String]) -> String {
    let told = names.iter().take(10).cloned().collect::<Vec<_>>().join(", ");
    if names.len() > 10 { format!("{told} … ({} in all)", names.len()) } else { told }
}
