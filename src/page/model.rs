//! What the page shows at one moment, and the actions that change it: the contract between `app`, `view` and `panels`.
//!
//! `app` owns everything and builds a `Model` after every change; `panels` and `view` only read it and send actions back.
//! Every number in a model belongs to the model's revision; nothing older is ever put into one.

use crate::assess::Assessment;
use crate::assess::depth::History;
use crate::assess::effects::Effects;
use crate::assess::sizing::Sizing;
use crate::assess::tolerable::{Asked, Sizes};
use crate::flight::Trajectory;
pub use crate::report::ramp::{Scale, ScaleKind};
use crate::scenario::{Colour, Scenario, UnitSystem};
use crate::shield::{Finding, Shield};
use crate::tile::coupon::Outcome;
use std::collections::BTreeMap;
use std::rc::Rc;
use std::sync::Arc;

/// What the page shows. Rebuilt by `app` for every frame in which something changed.
#[derive(Clone)]
pub struct Model {
    /// Rises with every change of an input.
    pub revision: u64,
    pub shield: Rc<Shield>,
    pub scenario: Rc<Scenario>,
    /// The vehicle's findings with the scenario's.
    pub findings: Arc<Vec<Finding>>,
    /// What a finding does to its tile's model, as rows.
    pub effects: Arc<Effects>,
    /// The flown entries, in the scenario's order.
    pub flights: Rc<Vec<Trajectory>>,
    /// Index of the entry shown.
    pub entry: usize,
    /// The moment shown; `None` is the peak of the flight.
    pub time_s: Option<f64>,
    /// The results of this revision, `None` until its surface stands; glue line and structure come tile by tile.
    pub results: Option<Rc<Assessment>>,
    /// Rises within a revision whenever the results do; 0 without any.
    pub edition: u64,
    /// Nothing in the results is an estimate.
    pub full: bool,
    /// How far the work in depth is; `None` when there is none left.
    pub progress: Option<Progress>,
    /// The thickness that each tile needs, as far as it is worked out; `None` until it was asked for.
    pub sized: Option<Sized>,
    /// What the tiles tolerate, as far as it is worked out; `None` unless it is the colour.
    pub tolerated: Option<Tolerated>,
    /// The ground test that is open.
    pub ground: Option<Rc<Ground>>,
    /// The page's own thread does the work in depth: no worker could be started.
    pub own_thread: bool,
    /// The picked tile's findings that are solved so far.
    pub damaged: super::damaged::Damaged,
    /// Findings solved of all, while their tables wait for them.
    pub damaging: Option<(usize, usize)>,
    pub picked: Option<usize>,
    pub hovered: Option<usize>,
    pub shown: Rc<Shown>,
    /// The picked tile over the entry shown.
    pub card: Option<Rc<Card>>,
    /// One curve an input (by `inputs` id), filled when idle.
    pub tracks: Rc<Vec<Track>>,
    pub units: UnitSystem,
    /// What was refused last, with what was kept first; `None` when nothing was.
    pub refused: Option<String>,
    /// A short word to the user that needs no answer ("link copied").
    pub said: Option<String>,
    pub can_undo: bool,
    pub can_redo: bool,
    /// First 16 hex digits of the results' digest when full, and whether a link's digest agreed (`None`: no link digest).
    pub digest: Option<String>,
    pub link_agrees: Option<bool>,
    /// The digits that the link carried, while its state is shown.
    pub link_digest: Option<String>,
    /// Times by stage in seconds, for the trust line and the summary.
    pub dark: bool,
}

/// The values that colour the shield, one a tile.
#[derive(Clone, Default)]
pub struct Shown {
    pub colour: Colour,
    /// SI; NaN where there is none. For `Condition` and `Regime` an index into the legend's list.
    pub values: Vec<f64>,
    /// Short of its limit: struck in margin and temperature.
    pub short: Vec<bool>,
    /// Near the onset of transition: marked where the boundary layer is shown.
    pub sensitive: Vec<bool>,
    /// The value is known to be at least so much; empty where every value is known.
    pub least: Vec<bool>,
    /// Hidden by the brush.
    pub hidden: Vec<bool>,
    /// Border of the body points' cover: a covered tile and the neighbour beyond.
    pub border: Vec<(usize, usize)>,
    /// Some tile's number is an estimate.
    pub estimate: bool,
    /// Not yet full, by tile: dotted.
    pub dotted: Vec<bool>,
    pub scale: Scale,
}

/// A coupon's test: computed, compared, fitted.
#[derive(Clone, Debug, PartialEq)]
pub struct Ground {
    /// Rises with every solution.
    pub turn: u64,
    pub outcome: Outcome,
    /// Curves to draw, by probe, of the case as fitted.
    pub times_s: Vec<f64>,
    pub curves_k: Vec<Vec<f64>>,
    /// Scales that can be fitted, and those that are.
    pub names: Vec<String>,
    pub fitted: Vec<String>,
    pub file: String,
}

/// Thicknesses of the first of all tiles.
#[derive(Clone, Debug, PartialEq)]
pub struct Sized {
    pub rows: Rc<Vec<Sizing>>,
    pub total: usize,
}

/// What tiles tolerate by radius and depth, or why there is no answer.
pub type Solved = BTreeMap<usize, Result<Sizes, String>>;

/// What the first of all tiles tolerate, by the bound, and those that were picked by radius and depth.
#[derive(Clone, Debug, PartialEq)]
pub struct Tolerated {
    pub asked: Asked,
    pub rows: Rc<Vec<Option<Sizes>>>,
    pub total: usize,
    pub solved: Rc<Solved>,
}

impl Tolerated {
    /// What is known of a tile: solved, else by the bound.
    pub fn of(&self, tile: usize) -> Option<Sizes> {
        self.solved.get(&tile).and_then(|answer| answer.clone().ok()).or(*self.rows.get(tile)?)
    }
}

/// How far the work in depth of the present inputs is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Progress {
    pub done: usize,
    pub total: usize,
    pub round: crate::assess::rounds::Round,
    /// Since the work began.
    pub seconds: f64,
    pub stopped: bool,
}

/// The picked tile's story over the entry shown, a value a flight sample used by the engine.
#[derive(Clone, Default)]
pub struct Card {
    pub tile: usize,
    pub time_s: Vec<f64>,
    pub surface_k: Vec<f64>,
    /// Hot-wall heating.
    pub heating_w_m2: Vec<f64>,
    /// Local factor on the reference, laminar or as it is at the sample.
    pub factor: Vec<f64>,
    /// 0 laminar, 1 transitional, 2 turbulent.
    pub regime: Vec<u8>,
    /// Transition criterion over its threshold, the tile's own or that of a site upstream; 0 where the criterion is not local.
    pub onset: Vec<f64>,
    /// The site that trips the tile or comes nearest to it: index into `sites` and its criterion over its threshold.
    pub trip: Vec<Option<(usize, f64)>>,
    /// What each site is, in words.
    pub sites: Vec<String>,
    /// Surface pressure.
    pub pressure_pa: Vec<f64>,
    /// In depth, with descent and soak-back; `None` for a tile without a stack, and while a slider is held.
    pub history: Option<Rc<History>>,
    /// Where each property of this tile's chain comes from, as lines to show: property, value text, source.
    pub sources: Vec<(String, String, String)>,
}

/// The smallest margin over an input's range: the slider's track.
#[derive(Clone, Debug, PartialEq)]
pub struct Track {
    /// Id of the input.
    pub input: String,
    pub revision: u64,
    /// Input values in SI (as the scenario stores them) and the smallest margin at each.
    pub at: Vec<f64>,
    pub margin_k: Vec<f64>,
}

/// Everything a panel or the view can ask of the app.
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    Pick(Option<usize>),
    Hover(Option<usize>),
    /// The next worst tile after the picked one.
    PickNext,
    Colour(Colour),
    /// `None` shows the peak of the flight.
    Time(Option<f64>),
    Entry(usize),
    Units(UnitSystem),
    Brush(Option<[f64; 2]>),
    /// Of which cavities is asked what the tiles tolerate.
    Cavity(Asked),
    Bands(bool),
    Map(bool),
    /// A new scenario while something is dragged (no undo step yet) or when let go (`done`).
    Change {
        scenario: Box<Scenario>,
        done: bool,
    },
    Undo,
    Redo,
    CopyLink,
    SaveScenario,
    SaveTable,
    SaveFindings,
    SaveWork,
    SavePoints,
    /// `damage.csv` or `present.csv`, once every finding is solved.
    SaveDamage(&'static str),
    /// The files of a vehicle, or one scenario file.
    Open(Vec<crate::shield::VehicleFile>),
    /// The demonstration again.
    Demonstration,
    Dismiss,
    /// Works out the thickness that every tile needs; takes all of them into the scenario.
    Size,
    TakeSizes,
    /// Fits these scales of the ground test; takes the fitted material over; saves it, and the result.
    Fit(Vec<String>),
    TakeGround,
    SaveFitted,
    SaveGround,
    /// Stops the work in depth, or goes on with it.
    Stop(bool),
    Print,
    /// A named view: `belly`, `left`, `right`, `top`, `tail`, `nose`, `default`.
    Turn(&'static str),
}
