//! What is kept of a run: values at asked times, and peaks over the whole run between the steps as well as at them.

use super::transient::Step;

/// The largest temperature of a place and the first time it was met.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    pub temperature_k: f64,
    pub time_s: f64,
}

impl Peak {
    pub fn start(temperature_k: f64) -> Peak {
        Peak { temperature_k, time_s: 0.0 }
    }

    fn meet(&mut self, (temperature_k, time_s): (f64, f64)) {
        // Rounding on a plateau is no new peak.
        if temperature_k > self.temperature_k + 1e-9 * self.temperature_k {
            *self = Peak { temperature_k, time_s };
        }
    }
}

/// Follows chosen nodes through a run.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    nodes: Vec<usize>,
    times_s: Vec<f64>,
    next: usize,
    /// For each followed node its values at the asked times.
    pub values_k: Vec<Vec<f64>>,
    /// The peak of every node of the mesh.
    pub peaks: Vec<Peak>,
}

impl History {
    /// Follows `nodes` at `times_s` (rising; the value at time 0 is the start) on a mesh of `count` nodes.
    pub fn new(nodes: Vec<usize>, times_s: Vec<f64>, count: usize, initial_k: f64) -> History {
        let next = times_s.partition_point(|at| *at <= 0.0);
        let values_k = nodes.iter().map(|_| vec![initial_k; next]).collect();
        History { nodes, times_s, next, values_k, peaks: vec![Peak::start(initial_k); count] }
    }

    pub fn watch(&mut self, step: &Step) {
        while let Some(at) = self.times_s.get(self.next).copied().filter(|at| *at <= step.to_s) {
            for (node, values) in self.nodes.iter().zip(&mut self.values_k) {
                values.push(if at == step.to_s { step.to_k[*node] } else { step.at(*node, at) });
            }
            self.next += 1;
        }
        for (node, peak) in self.peaks.iter_mut().enumerate() {
            if step.from_slope[node] > 0.0 || step.to_k[node] > peak.temperature_k {
                peak.meet(step.peak(node));
            }
        }
    }
}
