//! One tile for the batch: its stack, what heats it, how it starts and lands; and what came out.

use super::table::MaterialTable;
use crate::tile::equilibrium::Emissivity;
use crate::tile::face::Face;

/// One solid layer of a tile's stack, from the heated face inward.
#[derive(Debug, Clone, Copy)]
pub struct TileLayer<'a> {
    pub table: &'a MaterialTable,
    pub thickness_m: f64,
    pub density_kg_m3: f64,
    /// Multiply the tabulated conductivity and specific heat; 1 for nominal.
    pub conductivity_scale: f64,
    pub specific_heat_scale: f64,
    /// Contact between this layer and the one above it, m2K/W; 0 for perfect contact (and for the first layer).
    pub contact_m2k_w: f64,
}

/// The descent after the last sample, touchdown and the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Landing {
    /// From the last sample to touchdown: heating fades out, pressure goes to the ground's, air film and surroundings come in, each
    /// linearly.
    pub descent_s: f64,
    pub ground_pressure_pa: f64,
    pub air_k: f64,
    pub h_w_m2k: f64,
    /// The longest time after touchdown.
    pub limit_s: f64,
}

/// One tile.
#[derive(Debug, Clone, Copy)]
pub struct TileProblem<'a> {
    /// From the heated face inward, one at least, thicknesses above 0.
    pub layers: &'a [TileLayer<'a>],
    /// How many layers make the tile (1; 2 with its coating as a layer): the bondline lies under them.
    pub tile_layers: usize,
    /// Index of the layer whose peak counts as the structure's.
    pub structure: usize,
    pub back: &'a Face,
    /// Strictly increasing from 0, two at least; the same list for all tiles of an entry.
    pub times_s: &'a [f64],
    /// Over `times_s`: cold-wall convective heating, recovery enthalpy (above 0) and pressure at this tile's surface.
    pub cold_wall_w_m2: &'a [f64],
    pub recovery_enthalpy_j_kg: &'a [f64],
    pub pressure_pa: &'a [f64],
    /// Multiplies the heating; 1 for nominal.
    pub heating_scale: f64,
    /// Of the face; where `emissivity_over` gives it over temperature, a factor on that.
    pub emissivity: f64,
    pub emissivity_over: Option<&'a Emissivity>,
    /// Start: linear through the tile from `surface_k`, everything under it at `structure_k`.
    pub surface_k: f64,
    pub structure_k: f64,
    pub landing: Landing,
    /// What the back exchanges with the structure beside it: W/m2K and the neighbour's temperature over `times_s` of its own.
    pub exchange: Option<Exchange<'a>>,
}

impl TileProblem<'_> {
    /// Emissivity of the face and its slope per K.
    pub(super) fn emissivity_at(&self, temperature_k: f64) -> (f64, f64) {
        match self.emissivity_over {
            None => (self.emissivity, 0.0),
            Some(over) => {
                let (value, slope) = over.value_and_slope(temperature_k);
                (self.emissivity * value, self.emissivity * slope)
            }
        }
    }
}

/// Heat exchanged with a neighbouring structure whose history is known.
#[derive(Debug, Clone, Copy)]
pub struct Exchange<'a> {
    pub conductance_w_m2k: f64,
    /// Strictly increasing; held outside.
    pub times_s: &'a [f64],
    pub neighbour_k: &'a [f64],
}

/// A peak and its time from entry interface.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TilePeak {
    pub temperature_k: f64,
    pub time_s: f64,
}

/// How a tile's run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum End {
    /// Nothing in the stack is hotter than the structure's peak: it can only fall.
    Peaked,
    /// The structure is within 1 K of where it will stay.
    Steady,
    /// `landing.limit_s` came first: the structure's peak is not known.
    #[default]
    Limit,
    /// The run could not be advanced: the tile's numbers are not valid.
    Failed,
}

/// What came out for one tile.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TileResult {
    pub surface: TilePeak,
    pub bondline: TilePeak,
    pub structure: TilePeak,
    pub structure_at_touchdown_k: f64,
    pub touchdown_s: f64,
    pub end_s: f64,
    pub end: End,
    /// Bound on the error of the three peaks and the touchdown temperature: a third of the largest difference of the two resolutions,
    /// each at the other's peak, and 0.15 K for what they do not see.
    pub numerical_error_k: f64,
    /// Net heat in less stored less out at the back, over the largest of them.
    pub imbalance_fraction: f64,
    /// Net heat through the face, J/m2.
    pub net_in_j_m2: f64,
    /// Steps of the fine resolution.
    pub steps: u32,
}

/// A tile's temperatures over time, at the ends of the fine steps.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct History {
    pub times_s: Vec<f64>,
    /// Depth of each node from the heated face, and its row index in `profiles_k[time][node]`.
    pub depths_m: Vec<f64>,
    pub profiles_k: Vec<Vec<f64>>,
    pub bondline_node: usize,
    pub structure_node: usize,
}
