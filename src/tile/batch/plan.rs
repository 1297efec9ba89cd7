//! A tile's two grids and where each lane finds surface, bondline and structure in them.

use super::pace::corners;
use super::problem::TileProblem;
use crate::tile::mesh::{Link, Mesh, Node, Spec};

/// Pieces below this share of the stretched depth stay one cell (bonds, a metal skin).
const THIN: f64 = 0.02;
/// The deepest cell is this many times the shallowest, in the wave's measure.
const GROWTH: f64 = 8.0;

/// A tile's two grids.
pub(super) struct Plan {
    pub coarse: Mesh,
    pub fine: Mesh,
    pub tile_layers: usize,
    pub structure: usize,
    pub layer_count: usize,
    /// The samples' cold-wall heat up to each, J/m2.
    pub fluence: Vec<f64>,
    /// Where the heating has a corner that a step must not straddle, s, rising.
    pub corners_s: Vec<f64>,
    /// The largest cold-wall heating: tiles alike in it take about as many steps.
    pub hardest: f64,
}

impl Plan {
    pub fn new(problem: &TileProblem, cells: usize) -> Plan {
        Plan::at_levels(problem, cells, [1, 2])
    }

    pub fn at_levels(problem: &TileProblem, cells: usize, levels: [usize; 2]) -> Plan {
        let mut specs = Vec::with_capacity(problem.layers.len());
        // Diffusivity where the heat passes: between start and peak, thin air.
        let (temperature_k, pressure_pa) = (600.0, 1000.0);
        for layer in problem.layers {
            if layer.contact_m2k_w > 0.0 {
                specs.push(Spec::Joint { resistance_m2k_w: layer.contact_m2k_w });
            }
            let per_m = layer.table.wave_per_m(layer.density_kg_m3, temperature_k, pressure_pa);
            specs.push(Spec::Solid { thickness_m: layer.thickness_m, density_kg_m3: layer.density_kg_m3, wave: layer.thickness_m * per_m });
        }
        let grid = |level| {
            let mut mesh = Mesh::graded(&specs, &[], cells, level, GROWTH, THIN);
            // The grid counts joints among its layers; here a layer is a solid, scaled as the problem asks.
            let solids: Vec<usize> = (0..specs.len()).filter(|i| matches!(specs[*i], Spec::Solid { .. })).collect();
            let place = |spec: usize| solids.iter().position(|solid| *solid == spec).unwrap_or(0);
            for node in &mut mesh.nodes {
                for (spec, mass) in [&mut node.outer, &mut node.inner].into_iter().flatten() {
                    let layer = place(*spec);
                    *spec = layer;
                    *mass *= problem.layers[layer].specific_heat_scale;
                }
            }
            for link in &mut mesh.links {
                if let Link::Conduct { layer, per_m } = link {
                    *layer = place(*layer);
                    *per_m *= problem.layers[*layer].conductivity_scale;
                }
            }
            mesh.faces = solids.iter().map(|solid| mesh.faces[*solid]).collect();
            mesh
        };
        Plan {
            coarse: grid(levels[0]),
            fine: grid(levels[1]),
            tile_layers: problem.tile_layers,
            structure: problem.structure,
            layer_count: problem.layers.len(),
            hardest: problem.heating_scale * problem.cold_wall_w_m2.iter().fold(0.0, |most: f64, q| most.max(*q)),
            fluence: fluence(problem),
            corners_s: corners(problem),
        }
    }

    /// What tiles must share to stand in one group: the coarse and fine node on each layer's two faces.
    pub fn shape(&self) -> Vec<u32> {
        let marks = self.coarse.faces.iter().chain(&self.fine.faces).flat_map(|(front, back)| [*front as u32, *back as u32]);
        marks.chain([self.layer_count as u32, self.tile_layers as u32, self.structure as u32]).collect()
    }

    /// Nodes of the surface, the bondline (the tile's back) and the structure's heated side.
    pub fn marks(&self, mesh: &Mesh) -> [usize; 3] {
        [0, mesh.faces[self.tile_layers - 1].1, mesh.faces[self.structure].0]
    }

    pub fn start(&self, problem: &TileProblem, mesh: &Mesh) -> Vec<f64> {
        let bondline = mesh.faces[self.tile_layers - 1].1;
        let depth = mesh.nodes[bondline].depth_m;
        let rise = problem.structure_k - problem.surface_k;
        let at = |(i, node): (usize, &Node)| {
            if i < bondline { problem.surface_k + rise * (node.depth_m / depth) } else { problem.structure_k }
        };
        mesh.nodes.iter().enumerate().map(at).collect()
    }
}

/// Cold-wall heat up to each sample.
fn fluence(problem: &TileProblem) -> Vec<f64> {
    let (times, flux) = (problem.times_s, problem.cold_wall_w_m2);
    let mut sum = 0.0;
    let mut fluence = Vec::with_capacity(times.len());
    fluence.push(0.0);
    for i in 1..times.len() {
        sum += 0.5 * (flux[i] + flux[i - 1]) * (times[i] - times[i - 1]);
        fluence.push(sum);
    }
    fluence
}
