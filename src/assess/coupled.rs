//! What the neighbours' skin brings to a tile's structure: the isolated solutions once more, joined by the skin as a network.
//!
//! Each tile was solved by itself. A metal skin conducts from tile to tile (some 250 s from neighbour to neighbour in 2 mm of aluminium), so that a
//! tile beside a hotter one ends hotter than by itself, and that one cooler. The isolated structure histories are kept; on top of each lies
//! a deviation, driven by the difference to its neighbours' histories with their own deviations:
//!
//! - skin: mass times heat capacity times the deviation's rate = what the joints bring - what goes up into pad and tile - what the back takes;
//!   a joint conducts shared length / (half the way between the centres over conductivity times thickness, one half after the other);
//! - pad and tile: a ladder of cells with properties at 450 K and ground pressure, its face held (it radiates far more than comes through).
//!
//! All tiles are solved together, implicit in time, the network to 1e-5 K: what an exchange of histories tends to when it is repeated. A
//! tile's answer thereby depends on its neighbours, and only this one does. Measured error: a tile solved through its whole stack with
//! its neighbours' coupled histories as given exchange (`verif_the_network_is_what_exchange_tends_to`).
//!
//! The skin carries heat between tiles of one stack; across the border of two stacks nothing is counted. A neighbour whose run has ended is held at its last
//! temperature, which is on the hot side.

use super::Peak;
use super::depth::{EntryDepth, Setup, TileDepth, TilePeak};
use crate::document::Sorting as _;
use crate::material::{Back, Conductivity, Material};
use crate::tile::equilibrium::STEFAN_BOLTZMANN;

/// Where the ladder's and the skin's properties are read.
const LADDER_K: f64 = 450.0;
const SKIN_K: f64 = 350.0;
const GROUND_PA: f64 = 101_325.0;
/// Cells of the tile in the ladder.
const CELLS: usize = 6;
/// Longest step until half an hour after touchdown, and later, s.
const STEPS_S: [f64; 2] = [50.0, 250.0];
const EARLY_S: f64 = 1800.0;
const SETTLED_K: f64 = 1e-5;
const ROUNDS: usize = 500;

/// One tile in the network; areas counted per square metre of the tile.
struct Node {
    /// Capacity, J/m2K, and conductance to the next cell inward, W/m2K, of each cell from the face on; the last conducts to the skin.
    cells: Vec<(f64, f64)>,
    skin_j_m2k: f64,
    /// Share of the first layer under the tile in the glue line's deviation, that of the last cell being the rest.
    glue_share: f64,
    back_w_m2k: f64,
    /// Neighbour and conductance, W/m2K.
    joints: Vec<(usize, f64)>,
}

fn conductivity(of: &Conductivity, temperature_k: f64) -> f64 {
    match of {
        Conductivity::Curve(curve) => curve.value_at(temperature_k),
        Conductivity::Grid { temperature_k: at, pressure_pa, value } => {
            // The row at or below ground pressure, or the last.
            let row = pressure_pa.partition_point(|pressure| *pressure <= GROUND_PA).saturating_sub(1);
            let Some(values) = value.get(row) else { return 0.0 };
            let above = at.partition_point(|known| *known <= temperature_k);
            match (above.checked_sub(1).and_then(|i| Some((*at.get(i)?, *values.get(i)?))), at.get(above).zip(values.get(above))) {
                (Some((t0, k0)), Some((t1, k1))) => k0 + (k1 - k0) * (temperature_k - t0) / (t1 - t0),
                (Some((_, k)), None) => k,
                (None, Some((_, k))) => *k,
                (None, None) => 0.0,
            }
        }
    }
}

fn in_plane(material: &Material) -> f64 {
    conductivity(material.conductivity_inplane_w_mk.as_ref().unwrap_or(&material.conductivity_w_mk), SKIN_K)
}

impl Node {
    fn of(setup: &Setup, tile: usize) -> Option<Node> {
        let row = setup.prepared.tiles.get(tile)?;
        let stack = setup.shield.stacks.get(row.stack?)?;
        let library = &setup.shield.library;
        let own = library.materials.get(row.material)?;
        let held = |material: &Material, mass: f64, at_k: f64| mass * material.specific_heat_j_kgk.value_at(at_k);
        let thick_m = row.thickness_m / CELLS as f64;
        // Each cell's middle conducts to the middle of the next: half a cell and half a cell.
        let resistance = thick_m / conductivity(&own.conductivity_w_mk, LADDER_K);
        let mut pieces = vec![(held(own, row.density_kg_m3 * thick_m, LADDER_K), resistance); CELLS];
        for layer in stack.layers.get(..stack.structure)? {
            let material = library.materials.get(layer.material)?;
            let heat = held(material, material.density_kg_m3 * layer.thickness_m, LADDER_K);
            pieces.push((heat, layer.thickness_m / conductivity(&material.conductivity_w_mk, LADDER_K)));
        }
        // The glue line stands between two halves; the first layer's is none where that is the skin itself.
        let under = pieces.get(CELLS).map_or(0.0, |(_, resistance)| *resistance);
        let glue_share = resistance / (resistance + under).max(1e-12);
        let after = pieces.iter().skip(1).map(|(_, resistance)| *resistance).chain([0.0]);
        let cells = pieces.iter().zip(after).map(|((heat, own), next)| (*heat, 2.0 / (own + next).max(1e-12))).collect();
        let skin = stack.layers.get(stack.structure..)?.iter().map(|layer| {
            let material = library.materials.get(layer.material)?;
            Some(held(material, material.density_kg_m3 * layer.thickness_m, SKIN_K))
        });
        let back_w_m2k = match &stack.back {
            Back::Adiabatic => 0.0,
            Back::Temperature { .. } => 1e7,
            Back::Convection { h_w_m2k, .. } => h_w_m2k.value_at(f64::MAX),
            Back::Radiation { emissivity, .. } => 4.0 * emissivity * STEFAN_BOLTZMANN * SKIN_K * SKIN_K * SKIN_K,
        };
        Some(Node { cells, skin_j_m2k: skin.sum::<Option<f64>>()?, glue_share, back_w_m2k, joints: Vec::new() })
    }
}

/// The nodes of all tiles that have a stack, joined.
fn network(setup: &Setup) -> Vec<Option<Node>> {
    let shield = setup.shield;
    let mut nodes: Vec<Option<Node>> = (0..shield.tiles.len()).map(|tile| Node::of(setup, tile)).collect();
    let stack = |tile: usize| setup.prepared.tiles.get(tile).and_then(|tile| tile.stack);
    for joint in setup.prepared.joints.iter() {
        let (a, b) = (joint.a as usize, joint.b as usize);
        let (Some(first), Some(second), Some(shared)) = (shield.tiles.get(a), shield.tiles.get(b), stack(a)) else { continue };
        if stack(b) != Some(shared) {
            continue;
        }
        let Some(skin) = shield.stacks.get(shared).and_then(|stack| stack.layers.get(stack.structure)) else { continue };
        let Some(material) = shield.library.materials.get(skin.material) else { continue };
        let way_m = (first.facet.centre - second.facet.centre).length().max(1e-3);
        let conducts_w_k = in_plane(material) * skin.thickness_m * joint.length_m / way_m;
        for (tile, other, area_m2) in [(a, b, first.facet.area_m2), (b, a, second.facet.area_m2)] {
            if let Some(Some(node)) = nodes.get_mut(tile)
                && area_m2 > 0.0
            {
                node.joints.push((other, conducts_w_k / area_m2));
            }
        }
    }
    // Sums round alike however the tiles are listed.
    let id = |tile: usize| shield.tiles.get(tile).map(|tile| tile.id.as_str());
    for node in nodes.iter_mut().flatten() {
        node.joints.order_by(|a, b| id(a.0).cmp(&id(b.0)).then(a.1.total_cmp(&b.1)));
    }
    nodes
}

/// The neighbours to which a tile's structure conducts, and how well, W/m2K of the tile.
pub fn joints_of(setup: &Setup, tile: usize) -> Vec<(usize, f64)> {
    network(setup).into_iter().nth(tile).flatten().map_or(Vec::new(), |node| node.joints)
}

/// Glue line and structure of every tile over time with its neighbours.
pub struct Coupled {
    /// From the entry's first row.
    pub times_s: Vec<f64>,
    /// By tile, then by time: the structure's isolated history and the coupled one; empty where a tile has none.
    pub isolated_k: Vec<Vec<f64>>,
    pub coupled_k: Vec<Vec<f64>>,
    /// The glue line's.
    pub isolated_glue_k: Vec<Vec<f64>>,
    pub coupled_glue_k: Vec<Vec<f64>>,
}

/// One entry of the whole shield.
pub fn histories(setup: &Setup, depth: &[Option<TileDepth>], entry: usize) -> Coupled {
    solve(setup, &network(setup), depth, entry)
}

/// The tiles of one entry that take part, one after the other in memory.
struct Joined<'n> {
    nodes: Vec<&'n Node>,
    /// Where each tile's cells begin, and the end of the last.
    from: Vec<usize>,
    /// Where each tile's joints begin; of each the neighbour's place and the conductance.
    joints_from: Vec<usize>,
    joints: Vec<(u32, f64)>,
    /// Deviation of each cell, K, and of the elimination over a step: one over the diagonal, and the right-hand side.
    ladder_k: Vec<f64>,
    inverse: Vec<f64>,
    right: Vec<f64>,
    skin_k: Vec<f64>,
}

impl<'n> Joined<'n> {
    fn new(nodes: &'n [Option<Node>], active: &[usize]) -> Joined<'n> {
        let mut place = vec![u32::MAX; nodes.len()];
        for (at, tile) in active.iter().enumerate() {
            place[*tile] = at as u32;
        }
        let nodes: Vec<&Node> = active.iter().filter_map(|tile| nodes.get(*tile)?.as_ref()).collect();
        let (mut from, mut joints_from, mut joints) = (vec![0], vec![0], Vec::new());
        for node in &nodes {
            from.push(from[from.len() - 1] + node.cells.len());
            joints.extend(node.joints.iter().map(|(other, g)| (place[*other], *g)).filter(|(other, _)| *other != u32::MAX));
            joints_from.push(joints.len());
        }
        let cells = from[from.len() - 1];
        let skin_k = vec![0.0; nodes.len()];
        Joined { nodes, from, joints_from, joints, ladder_k: vec![0.0; cells], inverse: vec![0.0; cells], right: vec![0.0; cells], skin_k }
    }

    /// One step of `h` with the isolated structures at its end: every deviation moves on.
    fn step(&mut self, h: f64, isolated_k: &[f64]) {
        let count = self.nodes.len();
        // The ladders eliminated from the face inward: what is left at the skin, over its diagonal.
        let mut rows: Vec<(f64, f64)> = Vec::with_capacity(count);
        for at in 0..count {
            let (upward, brought) = self.eliminate(at, h);
            let node = self.nodes[at];
            let (mut joined, mut drive) = (0.0, 0.0);
            for (other, g) in &self.joints[self.joints_from[at]..self.joints_from[at + 1]] {
                joined += g;
                drive += g * (isolated_k[*other as usize] - isolated_k[at]);
            }
            let inverse = 1.0 / (node.skin_j_m2k / h + upward + node.back_w_m2k + joined);
            rows.push((inverse, (node.skin_j_m2k / h * self.skin_k[at] + brought + drive) * inverse));
        }
        let mut after = self.skin_k.clone();
        for _ in 0..ROUNDS {
            let mut most: f64 = 0.0;
            for (at, (inverse, right)) in rows.iter().enumerate() {
                let mut beside = 0.0;
                for (other, g) in &self.joints[self.joints_from[at]..self.joints_from[at + 1]] {
                    beside += g * self.skin_k[*other as usize];
                }
                after[at] = right + beside * inverse;
                let moved = (after[at] - self.skin_k[at]).abs();
                if moved > most {
                    most = moved;
                }
            }
            std::mem::swap(&mut after, &mut self.skin_k);
            if most <= SETTLED_K {
                break;
            }
        }
        (0..count).for_each(|at| self.follow(at));
    }

    /// Conductance from the skin into a tile's ladder as it answers within `h`, W/m2K, and what the ladder's own deviation brings, W/m2.
    fn eliminate(&mut self, at: usize, h: f64) -> (f64, f64) {
        let cells = &self.nodes[at].cells;
        // The face is held: the first cell reaches it through half of itself.
        let mut outer = cells.first().map_or(0.0, |(_, inner)| 2.0 * inner);
        let mut brought = 0.0;
        for (cell, (heat, inner)) in (self.from[at]..).zip(cells) {
            let inverse = 1.0 / (heat / h + outer + inner);
            let right = heat / h * self.ladder_k[cell] + brought;
            (self.inverse[cell], self.right[cell]) = (inverse, right);
            (outer, brought) = (inner - inner * inner * inverse, inner * right * inverse);
        }
        (outer, brought)
    }

    /// A tile's new deviations, from the skin outward.
    fn follow(&mut self, at: usize) {
        let mut inward = self.skin_k[at];
        for (cell, (_, inner)) in (self.from[at]..self.from[at + 1]).zip(&self.nodes[at].cells).rev() {
            inward = (self.right[cell] + inner * inward) * self.inverse[cell];
            self.ladder_k[cell] = inward;
        }
    }

    /// The glue line's deviation, K.
    fn glue_k(&self, at: usize) -> f64 {
        let cells = &self.ladder_k[self.from[at]..self.from[at + 1]];
        let cell = cells.get(CELLS - 1).copied().unwrap_or(0.0);
        let under = cells.get(CELLS).copied().unwrap_or(self.skin_k[at]);
        cell + self.nodes[at].glue_share * (under - cell)
    }
}

fn solve(setup: &Setup, nodes: &[Option<Node>], depth: &[Option<TileDepth>], entry: usize) -> Coupled {
    let course_s = setup.course_s(entry);
    let solved = |tile: usize| {
        let one = depth.get(tile).and_then(Option::as_ref)?.entries.get(entry);
        one.filter(|one| nodes.get(tile).is_some_and(Option::is_some) && !one.course_k.iter().flatten().any(|k| k.is_nan()))
    };
    let known: Vec<(usize, &EntryDepth)> = (0..nodes.len()).filter_map(|tile| Some((tile, solved(tile)?))).collect();
    let last_s = known.iter().map(|(_, one)| one.end_s - one.touchdown_s).fold(0.0, f64::max);
    let times_s = times(course_s, setup.scenario.landing.descent_s, last_s);
    let [isolated_glue_k, isolated_k] = [0, 1].map(|layer| -> Vec<Vec<f64>> {
        let mut out = vec![Vec::new(); nodes.len()];
        for (tile, one) in &known {
            out[*tile] = sampled(course_s, &one.course_k[layer], &times_s);
        }
        out
    });
    let mut coupled_glue_k = isolated_glue_k.clone();
    let mut coupled_k = isolated_k.clone();
    let active: Vec<usize> = known.iter().map(|(tile, _)| *tile).collect();
    let mut joined = Joined::new(nodes, &active);
    for (step, h) in times_s.windows(2).map(|ends| ends[1] - ends[0]).enumerate() {
        let now_k: Vec<f64> = active.iter().map(|tile| isolated_k[*tile][step + 1]).collect();
        joined.step(h, &now_k);
        for (at, tile) in active.iter().enumerate() {
            coupled_k[*tile][step + 1] += joined.skin_k[at];
            coupled_glue_k[*tile][step + 1] += joined.glue_k(at);
        }
    }
    Coupled { times_s, isolated_k, coupled_k, isolated_glue_k, coupled_glue_k }
}

/// By entry, then by tile: the peaks of glue line and structure with the neighbours; `None` where a tile has no answer in depth.
///
/// The peak of the isolated solution, moved by what the network moves the largest value of the history. Deterministic, in the order of the tiles.
pub fn peaks(setup: &Setup, depth: &[Option<TileDepth>]) -> Vec<Vec<Option<[Peak; 2]>>> {
    let nodes = network(setup);
    let entries = setup.prepared.flights.len();
    (0..entries)
        .map(|entry| {
            let coupled = solve(setup, &nodes, depth, entry);
            let start_s = setup.start_s(entry);
            (0..nodes.len())
                .map(|tile| {
                    let alone = depth.get(tile)?.as_ref()?.entries.get(entry)?;
                    let moved = |alone: &TilePeak, isolated: &[Vec<f64>], joined: &[Vec<f64>]| {
                        let largest = |list: &[f64]| {
                            list.iter().copied().enumerate().reduce(|most, other| if other.1 > most.1 { other } else { most })
                        };
                        let (_, isolated_k) = largest(isolated.get(tile)?)?;
                        let (at, coupled_k) = largest(joined.get(tile)?)?;
                        let time_s = coupled.times_s.get(at)? + start_s;
                        Some(Peak { temperature_k: alone.temperature_k + coupled_k - isolated_k, time_s, entry })
                    };
                    let glue = moved(&alone.bondline, &coupled.isolated_glue_k, &coupled.coupled_glue_k)?;
                    Some([glue, moved(&alone.structure, &coupled.isolated_k, &coupled.coupled_k)?])
                })
                .collect()
        })
        .collect()
}

/// Steps that hit the course's own points, short while the structure is on its way.
fn times(course_s: &[f64], descent_s: f64, last_s: f64) -> Vec<f64> {
    // Sixteen points over the entry, four over the descent: the twentieth is touchdown.
    let touchdown_s = course_s.get(20).copied().unwrap_or(descent_s);
    let end_s = touchdown_s + last_s;
    let mut times = vec![0.0];
    for to in course_s.iter().copied().skip(1) {
        let from = times.last().copied().unwrap_or(0.0);
        if from >= end_s {
            break;
        }
        let longest = if from < touchdown_s + EARLY_S { STEPS_S[0] } else { STEPS_S[1] };
        let parts = ((to - from) / longest).ceil().max(1.0);
        times.extend((1..=parts as usize).map(|i| from + (to - from) * i as f64 / parts).filter(|at| *at > from));
    }
    times
}

fn sampled(at: &[f64], value: &[f64], times: &[f64]) -> Vec<f64> {
    let mut place = 0;
    let one = |time: &f64| {
        while place + 2 < at.len() && at[place + 1] < *time {
            place += 1;
        }
        let (from, to) = (at[place], at[place + 1]);
        let share = if to > from { ((time - from) / (to - from)).clamp(0.0, 1.0) } else { 1.0 };
        value[place] + share * (value[place + 1] - value[place])
    };
    times.iter().map(one).collect()
}
