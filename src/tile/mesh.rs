//! The grid through a stack: nodes on every layer's faces and at every asked depth, closest at the heated face.
//!
//! Depth is measured as a thermal wave sees it (thickness over the root of the diffusivity), so that a layer gets cells by how
//! much it delays heat, and a metal skin gets one. Cells grow with the depth in that measure.

use super::properties::Layer;
use crate::document::Sorting as _;

/// The deepest cell is this many times the shallowest, in the wave's measure.
const GROWTH: f64 = 20.0;

/// What joins a node to the next one inward.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Link {
    /// Conduction within a solid layer: its index among the layers, and the reciprocal distance in 1/m.
    Conduct { layer: usize, per_m: f64 },
    /// A contact, W/m2K.
    Contact { conductance: f64 },
}

/// A node holds the half-cells on its two sides: the layer's index and the mass in kg/m2.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Node {
    pub depth_m: f64,
    pub outer: Option<(usize, f64)>,
    pub inner: Option<(usize, f64)>,
}

/// A layer as the grid sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spec {
    /// `wave` is the thickness over the root of the diffusivity, s^0.5.
    Solid {
        thickness_m: f64,
        density_kg_m3: f64,
        wave: f64,
    },
    Joint {
        resistance_m2k_w: f64,
    },
}

#[derive(Debug, Clone, PartialEq, Default)]
pub struct Mesh {
    pub nodes: Vec<Node>,
    /// One fewer than the nodes.
    pub links: Vec<Link>,
    /// For each layer the nodes on its outer and inner face (a joint's are the two nodes it joins).
    pub faces: Vec<(usize, usize)>,
}

impl Mesh {
    /// A grid of about `cells` cells over `layers`, one at least a layer and multiplied by `level` everywhere, with a node at each of
    /// `depths_m` that lies inside a solid layer. The diffusivities are taken at `temperature_k` and `pressure_pa`.
    pub fn through(layers: &[Layer], depths_m: &[f64], cells: usize, level: usize, temperature_k: f64, pressure_pa: f64) -> Mesh {
        let specs: Vec<Spec> = layers
            .iter()
            .map(|layer| match layer {
                Layer::Joint { resistance_m2k_w } => Spec::Joint { resistance_m2k_w: *resistance_m2k_w },
                Layer::Solid(solid) => Spec::Solid {
                    thickness_m: solid.thickness_m,
                    density_kg_m3: solid.density_kg_m3,
                    wave: solid.wave_thickness(temperature_k, pressure_pa),
                },
            })
            .collect();
        Mesh::graded(&specs, depths_m, cells, level, GROWTH, 0.0)
    }

    /// As [`Mesh::through`], from each layer's thickness as a wave sees it; the deepest cell is `growth` (above 1) times the
    /// shallowest in that measure. A piece that holds less than the share `thin` of the
    /// stretched depth keeps one cell at every level.
    pub fn graded(layers: &[Spec], depths_m: &[f64], cells: usize, level: usize, growth: f64, thin: f64) -> Mesh {
        let waves: Vec<f64> = layers.iter().map(|layer| if let Spec::Solid { wave, .. } = layer { *wave } else { 0.0 }).collect();
        let whole: f64 = waves.iter().sum();
        let start = whole / (growth - 1.0);
        let density = |wave: f64| libm::log((wave + start) / start);
        let scale = cells as f64 / density(whole);
        let mut mesh = Mesh::default();
        let (mut depth, mut wave) = (0.0, 0.0);
        // The resistance met since the last solid, if any.
        let mut contact: Option<f64> = None;
        for (index, layer) in layers.iter().enumerate() {
            match layer {
                Spec::Joint { resistance_m2k_w } => {
                    if mesh.nodes.is_empty() {
                        mesh.nodes.push(Node::default());
                    }
                    let outer = mesh.nodes.len() - 1;
                    mesh.faces.push((outer, outer));
                    contact = Some(contact.unwrap_or(0.0) + resistance_m2k_w);
                }
                Spec::Solid { thickness_m, density_kg_m3, .. } => {
                    let (thickness_m, density_kg_m3) = (*thickness_m, *density_kg_m3);
                    match contact.take() {
                        Some(resistance) if resistance > 0.0 => {
                            mesh.nodes.push(Node { depth_m: depth, ..Node::default() });
                            mesh.links.push(Link::Contact { conductance: 1.0 / resistance });
                        }
                        _ if mesh.nodes.is_empty() => mesh.nodes.push(Node::default()),
                        _ => {}
                    }
                    let front = mesh.nodes.len() - 1;
                    let slope = waves[index] / thickness_m;
                    let mut edges: Vec<f64> =
                        depths_m.iter().map(|at| at - depth).filter(|at| *at > 1e-9 && *at < thickness_m - 1e-9).collect();
                    edges.push(thickness_m);
                    edges.order_by(f64::total_cmp);
                    edges.dedup_by(|a, b| *a - *b < 1e-9);
                    let mut from = 0.0;
                    for to in edges {
                        let (low, high) = (density(wave + slope * from), density(wave + slope * to));
                        let count = if high - low < thin * density(whole) {
                            1
                        } else {
                            ((high - low) * scale).ceil().clamp(1.0, cells as f64) as usize * level
                        };
                        let mut previous = from;
                        for i in 1..=count {
                            let part = i as f64 / count as f64;
                            let x = if i == count {
                                to
                            } else if high - low < 1e-3 {
                                from + (to - from) * part
                            } else {
                                ((libm::exp(low + (high - low) * part) - 1.0) * start - wave) / slope
                            };
                            mesh.extend(index, density_kg_m3, depth + x, x - previous);
                            previous = x;
                        }
                        from = to;
                    }
                    mesh.faces.push((front, mesh.nodes.len() - 1));
                    depth += thickness_m;
                    wave += waves[index];
                }
            }
        }
        if let Some(resistance) = contact.filter(|resistance| *resistance > 0.0) {
            mesh.nodes.push(Node { depth_m: depth, ..Node::default() });
            mesh.links.push(Link::Contact { conductance: 1.0 / resistance });
        }
        mesh
    }

    fn extend(&mut self, layer: usize, density_kg_m3: f64, depth_m: f64, size_m: f64) {
        let half = 0.5 * size_m * density_kg_m3;
        if let Some(node) = self.nodes.last_mut() {
            node.inner = Some((layer, half));
        }
        self.links.push(Link::Conduct { layer, per_m: 1.0 / size_m });
        self.nodes.push(Node { depth_m, outer: Some((layer, half)), inner: None });
    }

    /// The node nearest to a depth, the outer one where a joint parts two.
    pub fn node_at(&self, depth_m: f64) -> usize {
        let mut best = (f64::INFINITY, 0);
        for (i, node) in self.nodes.iter().enumerate() {
            let gap = (node.depth_m - depth_m).abs();
            if gap < best.0 - 1e-10 {
                best = (gap, i);
            }
        }
        best.1
    }
}
