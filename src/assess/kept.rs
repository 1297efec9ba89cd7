//! Peaks that are kept from one assessment to the next: an entry whose flight and whose shield did not change is not solved again.

use super::margins::Peaks;
use super::prepare::{Flight, Prepared};
use crate::scenario::Scenario;
use std::sync::Arc;

/// What one assessment leaves for the next. A result never depends on it: it only spares work.
#[derive(Debug, Clone, Default)]
pub struct Kept {
    basis: Option<Arc<Scenario>>,
    by_flight: Vec<(Arc<Flight>, Arc<Peaks>)>,
}

impl Kept {
    /// The peaks of every entry in the scenario's order, each kept or solved by `solve`; forgets what this assessment does not ask for.
    pub(super) fn peaks(&mut self, prepared: &Prepared, solve: impl Fn(usize) -> Peaks) -> Vec<Arc<Peaks>> {
        if !self.basis.as_ref().is_some_and(|basis| Arc::ptr_eq(basis, &prepared.basis)) {
            self.by_flight.clear();
            self.basis = Some(prepared.basis.clone());
        }
        let known =
            |flight: &Arc<Flight>| self.by_flight.iter().find(|(kept, _)| Arc::ptr_eq(kept, flight)).map(|(_, peaks)| peaks.clone());
        let peaks: Vec<Arc<Peaks>> =
            prepared.flights.iter().enumerate().map(|(entry, flight)| known(flight).unwrap_or_else(|| Arc::new(solve(entry)))).collect();
        self.by_flight = prepared.flights.iter().cloned().zip(peaks.iter().cloned()).collect();
        peaks
    }
}
