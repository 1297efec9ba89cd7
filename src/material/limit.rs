//! Limits: which of a material's temperatures counts under a policy of single mission, reuse or a number of flights.

use super::{Library, Limit, Material, StackLayer};

/// How often a part must stand its limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LimitPolicy {
    Reuse,
    SingleMission,
    /// From 1 up.
    Flights(f64),
}

/// A limit as it was read, with what must be said beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitRead {
    pub kelvin: f64,
    /// `single-mission limit`, `reuse limit` or `limit of the stack`.
    pub which: &'static str,
    /// The flights asked for lie beyond those that the limit is stated for.
    pub warning: Option<String>,
}

impl Limit {
    /// The limit, K, after `flights` flights: a table is linear between its points and constant outside.
    pub fn at_flights(&self, flights: f64) -> f64 {
        match self {
            Limit::Kelvin(kelvin) => *kelvin,
            Limit::Flights { flights: at, value_k } => {
                let i = at.partition_point(|known| *known <= flights);
                match (i.checked_sub(1).and_then(|j| Some((at.get(j)?, value_k.get(j)?))), at.get(i).zip(value_k.get(i))) {
                    (Some((x0, y0)), Some((x1, y1))) => y0 + (y1 - y0) * ((flights - x0) / (x1 - x0)),
                    (Some((_, y)), None) | (None, Some((_, y))) => *y,
                    (None, None) => f64::NAN,
                }
            }
        }
    }

    /// The limit, K, under a policy. A table is read at 1 flight for a single mission and at its last point for reuse.
    pub fn at(&self, policy: LimitPolicy) -> f64 {
        match policy {
            LimitPolicy::SingleMission => self.at_flights(1.0),
            LimitPolicy::Flights(flights) => self.at_flights(flights),
            LimitPolicy::Reuse => self.at_flights(f64::INFINITY),
        }
    }

    fn is_table(&self) -> bool {
        matches!(self, Limit::Flights { .. })
    }
}

impl Material {
    /// The material's limit under `policy`, `None` where the library states none for it.
    ///
    /// `Flights(n)` reads the table over flights at n where the material has one; without, the single-mission limit for n = 1 and the
    /// reuse limit above, with a warning where n lies beyond `reuse_flights`.
    pub fn limit_at(&self, policy: LimitPolicy) -> Option<LimitRead> {
        let single = self.single_mission_limit_k.as_ref().map(|limit| (limit, "single-mission limit"));
        let reuse = self.reuse_limit_k.as_ref().map(|limit| (limit, "reuse limit"));
        let (limit, which) = match policy {
            LimitPolicy::SingleMission => single?,
            LimitPolicy::Reuse => reuse?,
            LimitPolicy::Flights(n) => {
                let table = [reuse, single].into_iter().flatten().find(|(limit, _)| limit.is_table());
                match table {
                    Some(table) => table,
                    None if n <= 1.0 => single?,
                    None => reuse?,
                }
            }
        };
        Some(LimitRead { kelvin: limit.at(policy), which, warning: self.beyond(limit, policy) })
    }

    fn beyond(&self, limit: &Limit, policy: LimitPolicy) -> Option<String> {
        let LimitPolicy::Flights(n) = policy else { return None };
        let known = match limit {
            Limit::Flights { flights, .. } => flights.last().copied(),
            Limit::Kelvin(_) => self.reuse_flights.filter(|_| n > 1.0),
        };
        let known = known.filter(|known| n > *known)?;
        Some(format!("{}: {n} flights asked for, its limit is stated for {known}", self.id))
    }
}

impl StackLayer {
    /// The layer's limit under `policy`: its own where the stack states one, else its material's.
    pub fn limit_at(&self, library: &Library, policy: LimitPolicy) -> Option<LimitRead> {
        let material = library.materials.get(self.material)?;
        match &self.limit_k {
            Some(limit) => {
                let warning = if limit.is_table() { material.beyond(limit, policy) } else { None };
                Some(LimitRead { kelvin: limit.at(policy), which: "limit of the stack", warning })
            }
            None => material.limit_at(policy),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FORMATS.md "A vehicle", last paragraph.
    #[test]
    fn verif_limits_by_policy() {
        let library = Library::built_in();
        let mut tile = library.materials[library.find("li-900").unwrap()].clone();
        let read = |tile: &Material, policy| tile.limit_at(policy).map(|read| (read.kelvin, read.warning.is_some()));
        for (policy, want) in [
            (LimitPolicy::SingleMission, (1760.0, false)),
            (LimitPolicy::Reuse, (1533.15, false)),
            (LimitPolicy::Flights(1.0), (1760.0, false)),
            (LimitPolicy::Flights(2.0), (1533.15, false)),
            (LimitPolicy::Flights(100.0), (1533.15, false)),
            (LimitPolicy::Flights(101.0), (1533.15, true)),
        ] {
            assert_eq!(read(&tile, policy), Some(want), "{policy:?}");
        }
        tile.reuse_limit_k = Some(Limit::Flights { flights: vec![1.0, 11.0, 21.0], value_k: vec![1700.0, 1600.0, 1550.0] });
        for (policy, want) in [
            (LimitPolicy::SingleMission, (1760.0, false)),
            (LimitPolicy::Reuse, (1550.0, false)),
            (LimitPolicy::Flights(1.0), (1700.0, false)),
            (LimitPolicy::Flights(6.0), (1650.0, false)),
            (LimitPolicy::Flights(16.0), (1575.0, false)),
            (LimitPolicy::Flights(30.0), (1550.0, true)),
        ] {
            assert_eq!(read(&tile, policy), Some(want), "{policy:?}");
        }
        tile.reuse_limit_k = None;
        assert_eq!(read(&tile, LimitPolicy::Reuse), None);
    }
}
