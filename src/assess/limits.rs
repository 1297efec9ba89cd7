//! What each layer of a tile may reach under the policy: surface, glue line, structure.

use super::Effective;
use crate::material::{Kind, Library, LimitPolicy, LimitRead, Stack};
use crate::scenario::Limits;

/// A limit and the name of what it belongs to.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedLimit {
    pub kelvin: f64,
    /// The material's or coating's id on the surface, the layer's name below.
    pub owner: String,
    pub warning: Option<String>,
}

pub fn limit_policy(limits: Limits) -> LimitPolicy {
    match limits {
        Limits::Reuse => LimitPolicy::Reuse,
        Limits::SingleMission => LimitPolicy::SingleMission,
        Limits::Flights(flights) => LimitPolicy::Flights(flights),
    }
}

fn lowest(limits: impl Iterator<Item = (Option<LimitRead>, String)>) -> Option<NamedLimit> {
    let named = limits.filter_map(|(read, owner)| {
        let read = read?;
        Some(NamedLimit { kelvin: read.kelvin, owner, warning: read.warning })
    });
    named.reduce(|lowest, other| if other.kelvin < lowest.kelvin { other } else { lowest })
}

/// The lower of the tile's and its coating's limit.
pub fn surface(library: &Library, effective: &Effective, limits: Limits) -> Option<NamedLimit> {
    let owners = [Some(effective.material), effective.coating];
    let materials = owners.into_iter().flatten().filter_map(|index| library.materials.get(index));
    lowest(materials.map(|material| (material.limit_at(limit_policy(limits)), material.id.clone())))
}

/// The lowest of the layers that meet at the glue line: bonds and pads outward of the structure, or the first layer where there are none.
pub fn bondline(library: &Library, stack: &Stack, limits: Limits) -> Option<NamedLimit> {
    let above = stack.layers.get(..stack.structure).unwrap_or(&[]);
    let soft = |material: usize| library.materials.get(material).is_some_and(|m| matches!(m.kind, Kind::Adhesive | Kind::IsolationPad));
    let mut meeting: Vec<_> = above.iter().filter(|layer| soft(layer.material)).collect();
    if meeting.is_empty() {
        meeting.extend(stack.layers.first());
    }
    lowest(meeting.into_iter().map(|layer| (layer.limit_at(library, limit_policy(limits)), layer.name.clone())))
}

/// The structure's own.
pub fn structure(library: &Library, stack: &Stack, limits: Limits) -> Option<NamedLimit> {
    let layer = stack.layers.get(stack.structure)?;
    lowest(std::iter::once((layer.limit_at(library, limit_policy(limits)), layer.name.clone())))
}
