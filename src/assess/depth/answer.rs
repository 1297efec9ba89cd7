//! A tile's answer in depth, and as numbers on its way between workers.

use super::{COURSE, End, TilePeak};
use crate::tile::batch::Solved;

/// One tile over one entry. Times in s from entry interface, temperatures in K.
#[derive(Debug, Clone, PartialEq)]
pub struct EntryDepth {
    /// The face in the transient: a little below the equilibrium, which stores nothing.
    pub face: TilePeak,
    pub bondline: TilePeak,
    pub structure: TilePeak,
    pub structure_at_touchdown_k: f64,
    pub touchdown_s: f64,
    pub end_s: f64,
    /// The worst end of the nominal run and those of the terms.
    pub end: End,
    /// The solver's own estimate over the nominal peaks, K.
    pub numerical_error_k: f64,
    pub imbalance_fraction: f64,
    /// Peaks of face, bondline and structure with each of the policy's terms; empty in a nominal solution.
    pub terms: Vec<[f64; 3]>,
    /// Glue line and structure at [`Setup::course_s`], held from the end of the run on.
    pub course_k: [Vec<f64>; 2],
}

/// One tile's answer in depth, an entry each; no entries for a tile without a stack.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TileDepth {
    pub entries: Vec<EntryDepth>,
}

const PLAIN: usize = 12;
const COURSES: usize = 2 * COURSE;
const ENDS: [End; 4] = [End::Peaked, End::Steady, End::Limit, End::Failed];

impl EntryDepth {
    /// An entry that a first look left out: no number is known.
    pub fn unknown() -> EntryDepth {
        let nothing = TilePeak { temperature_k: f64::NAN, time_s: f64::NAN };
        EntryDepth {
            face: nothing,
            bondline: nothing,
            structure: nothing,
            structure_at_touchdown_k: f64::NAN,
            touchdown_s: f64::NAN,
            end_s: f64::NAN,
            end: End::Peaked,
            numerical_error_k: f64::INFINITY,
            imbalance_fraction: f64::NAN,
            terms: Vec::new(),
            course_k: [vec![f64::NAN; COURSE], vec![f64::NAN; COURSE]],
        }
    }

    pub fn is_known(&self) -> bool {
        !self.bondline.temperature_k.is_nan()
    }
}

impl TileDepth {
    /// Numbers of a tile's answer on the way between workers: one, then each entry's.
    pub fn length(entries: usize, terms: usize) -> usize {
        1 + entries * (PLAIN + 3 * terms + COURSES)
    }

    /// The answer as [`TileDepth::length`] numbers, NaN where a tile has no stack. `entries` and `terms` are the scenario's.
    pub fn to_floats(&self, entries: usize, terms: usize) -> Vec<f64> {
        let mut out = Vec::with_capacity(TileDepth::length(entries, terms));
        out.push(self.entries.len() as f64);
        for entry in &self.entries {
            let peaks = [entry.face, entry.bondline, entry.structure].into_iter().flat_map(|peak| [peak.temperature_k, peak.time_s]);
            out.extend(peaks);
            out.extend([entry.structure_at_touchdown_k, entry.touchdown_s, entry.end_s]);
            out.push(ENDS.iter().position(|end| *end == entry.end).unwrap_or(ENDS.len()) as f64);
            out.extend([entry.numerical_error_k, entry.imbalance_fraction]);
            out.extend((0..terms).flat_map(|term| entry.terms.get(term).copied().unwrap_or([f64::NAN; 3])));
            for course_k in &entry.course_k {
                out.extend((0..COURSE).map(|i| course_k.get(i).copied().unwrap_or(f64::NAN)));
            }
        }
        out.resize(TileDepth::length(entries, terms), f64::NAN);
        out
    }

    /// The inverse of [`TileDepth::to_floats`]; `None` where the numbers are too few or no such answer.
    pub fn from_floats(numbers: &[f64], terms: usize) -> Option<TileDepth> {
        let (count, rest) = numbers.split_first()?;
        let width = PLAIN + 3 * terms + COURSES;
        let entries = (rest.chunks_exact(width)).take(*count as usize).map(|numbers| {
            let (plain, rest) = numbers.split_at_checked(PLAIN)?;
            let (by_term, course) = rest.split_at_checked(3 * terms)?;
            let (bondline, structure) = course.split_at_checked(COURSE)?;
            let peak = |i: usize| Some(TilePeak { temperature_k: *plain.get(i)?, time_s: *plain.get(i + 1)? });
            let [.., touchdown_k, touchdown_s, end_s, end, numerical_error_k, imbalance_fraction] = *plain else { return None };
            let mut shifted = by_term.chunks_exact(3).map(|three| [three[0], three[1], three[2]]).collect::<Vec<_>>();
            if shifted.iter().any(|three| three[0].is_nan()) {
                shifted.clear();
            }
            Some(EntryDepth {
                face: peak(0)?,
                bondline: peak(2)?,
                structure: peak(4)?,
                structure_at_touchdown_k: touchdown_k,
                touchdown_s,
                end_s,
                end: *ENDS.get(end as usize)?,
                numerical_error_k,
                imbalance_fraction,
                terms: shifted,
                course_k: [bondline.to_vec(), structure.to_vec()],
            })
        });
        let entries = entries.collect::<Option<Vec<_>>>()?;
        (entries.len() == *count as usize).then_some(TileDepth { entries })
    }

    /// Why the tile has no valid answer; `None` where it has one, or no stack.
    pub fn failure(&self) -> Option<End> {
        let worst = self.entries.iter().map(|entry| entry.end).max_by_key(|end| ENDS.iter().position(|known| known == end));
        worst.filter(|end| matches!(end, End::Limit | End::Failed))
    }
}

/// `terms` are the peaks of face, bondline and structure with each of the policy's terms, and how their runs ended.
pub(super) fn entry_depth(nominal: &Solved, terms: &[([f64; 3], End)], start_s: f64) -> EntryDepth {
    let shifted = |peak: TilePeak| TilePeak { temperature_k: peak.temperature_k, time_s: peak.time_s + start_s };
    let rank = |end: &End| ENDS.iter().position(|known| known == end);
    let result = &nominal.result;
    EntryDepth {
        face: shifted(result.surface),
        bondline: shifted(result.bondline),
        structure: shifted(result.structure),
        structure_at_touchdown_k: result.structure_at_touchdown_k,
        touchdown_s: result.touchdown_s + start_s,
        end_s: result.end_s + start_s,
        end: std::iter::once(result.end).chain(terms.iter().map(|(_, end)| *end)).max_by_key(rank).unwrap_or_default(),
        numerical_error_k: result.numerical_error_k,
        imbalance_fraction: result.imbalance_fraction,
        terms: terms.iter().map(|(peaks_k, _)| *peaks_k).collect(),
        course_k: nominal.trace_k.clone(),
    }
}
