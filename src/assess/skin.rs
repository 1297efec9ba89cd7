//! What a cavity's floor, its wall and a face without its coating meet: factors on the face's own heating, laminar and turbulent, and an
//! emissivity.

use super::effects::{Effects, Quantity, Row};
use crate::material::Material;

/// A surface's factors, laminar and turbulent, and its emissivity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Skin {
    pub laminar: f64,
    pub turbulent: f64,
    pub emissivity: f64,
}

impl Skin {
    /// The face as it is.
    pub fn whole(emissivity: f64) -> Skin {
        Skin { laminar: 1.0, turbulent: 1.0, emissivity }
    }

    /// The hotter of floor, wall and a face of `emissivity` in every respect: the full-area bound's.
    pub fn most(floor: Skin, wall: Skin, emissivity: f64) -> Skin {
        Skin {
            laminar: floor.laminar.max(wall.laminar).max(1.0),
            turbulent: floor.turbulent.max(wall.turbulent).max(1.0),
            emissivity: floor.emissivity.min(emissivity),
        }
    }
}

/// A tile's face, as far as a surface without its coating goes by it.
#[derive(Debug, Clone, Copy)]
pub struct Face<'a> {
    pub material: Option<&'a Material>,
    /// At its own peak.
    pub emissivity: f64,
    pub hottest_k: f64,
    pub catalycity: f64,
}

/// The rows that a cavity of a kind and shape takes: floor and wall, laminar and turbulent, emissivity, catalycity.
pub fn rows(effects: &Effects, kind: &str, length_over_depth: f64) -> [Option<Row>; 6] {
    let find = |what, turbulent| effects.find(what, kind, turbulent, length_over_depth).cloned();
    [
        find(Quantity::Floor, false),
        find(Quantity::Floor, true),
        find(Quantity::Wall, false),
        find(Quantity::Wall, true),
        find(Quantity::Emissivity, false),
        find(Quantity::Catalycity, false),
    ]
}

impl Face<'_> {
    /// Floor and wall of a cavity from its rows. A bare face loses the coating's catalytic saving in laminar flow.
    pub fn skins(&self, rows: &[Option<Row>; 6]) -> (Skin, Skin) {
        let factor = |row: &Option<Row>| row.as_ref().map_or(1.0, Row::factor);
        let bare = if self.catalycity > 0.0 { (factor(&rows[5]) / self.catalycity).max(1.0) } else { 1.0 };
        let skin = |laminar: usize, turbulent: usize| {
            let (laminar, turbulent) = (factor(&rows[laminar]) * bare, factor(&rows[turbulent]));
            let own = self.bare_emissivity(laminar.max(turbulent));
            let emissivity = own.or(rows[4].as_ref().map(Row::factor)).unwrap_or(self.emissivity);
            Skin { laminar, turbulent, emissivity }
        };
        (skin(0, 1), skin(2, 3))
    }

    /// The bare material's own emissivity, where its library entry has one: at the temperature at which it radiates `factor` times what the
    /// face does at its peak.
    fn bare_emissivity(&self, factor: f64) -> Option<f64> {
        let material = self.material?;
        let mut bare = material.emissivity_at(self.hottest_k)?;
        for _ in 0..4 {
            let bare_k = self.hottest_k * libm::pow(factor * self.emissivity / bare, 0.25);
            bare = material.emissivity_at(bare_k)?;
        }
        Some(bare)
    }
}
