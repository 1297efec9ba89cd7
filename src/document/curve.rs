//! A number, or a table over one axis: linear between points, constant outside, the axis strictly increasing.

use super::json::{self, Json, Object, Range};
use super::problem::Problems;

/// Values over a strictly increasing axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The axis's key with its unit, such as `time_s`.
    pub axis: &'static str,
    pub at: Vec<f64>,
    pub value: Vec<f64>,
}

impl Table {
    /// The value at `x`: linear between points, held constant outside.
    pub fn value_at(&self, x: f64) -> f64 {
        let n = self.at.len();
        if x <= self.at[0] {
            return self.value[0];
        }
        if x >= self.at[n - 1] {
            return self.value[n - 1];
        }
        let i = self.at.partition_point(|at| *at <= x) - 1;
        let share = (x - self.at[i]) / (self.at[i + 1] - self.at[i]);
        self.value[i] + share * (self.value[i + 1] - self.value[i])
    }

    pub fn to_json(&self) -> Json {
        Json::Object(vec![(self.axis.to_string(), Json::numbers(&self.at)), ("value".to_string(), Json::numbers(&self.value))])
    }
}

/// A number that may be a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Curve {
    Constant(f64),
    Table(Table),
}

impl Curve {
    /// The value where the axis stands at `x`; a constant ignores it.
    pub fn value_at(&self, x: f64) -> f64 {
        match self {
            Curve::Constant(value) => *value,
            Curve::Table(table) => table.value_at(x),
        }
    }

    /// The axis's key, `None` for a constant.
    pub fn axis(&self) -> Option<&'static str> {
        match self {
            Curve::Constant(_) => None,
            Curve::Table(table) => Some(table.axis),
        }
    }

    pub fn to_json(&self) -> Json {
        match self {
            Curve::Constant(value) => Json::Number(*value),
            Curve::Table(table) => table.to_json(),
        }
    }

    /// Reads a number or `{"<axis>": […], "value": […]}` where the axis is one of `axes`; every value within `range`.
    pub fn read(node: &Json, path: &str, axes: &[&'static str], range: Range, problems: &mut Problems) -> Curve {
        let fields = match node {
            Json::Object(fields) if !axes.is_empty() => fields,
            other => return Curve::Constant(json::number(other, path, range, problems).unwrap_or(0.0)),
        };
        let Some(axis) = axes.iter().copied().find(|axis| fields.iter().any(|(name, _)| name == axis)) else {
            problems.at_key(path, format!("{} has no axis", node.quoted()), format!("one of {} with \"value\"", axes.join(", ")));
            return Curve::Constant(0.0);
        };
        let before = problems.list.len();
        let Some(mut object) = Object::open(node, path, problems) else { return Curve::Constant(0.0) };
        let mut column = |key: &'static str, range: Range, problems: &mut Problems| {
            let path = object.path_of(key);
            object.required(key, problems).map_or(Vec::new(), |node| json::numbers(node, &path, range, problems))
        };
        let at = column(axis, Range::ANY, problems);
        let value = column("value", range, problems);
        object.finish(problems);
        if problems.list.len() == before {
            check_axis(&at, &format!("{path}.{axis}"), problems);
            if at.len() != value.len() {
                problems.at_key(path, format!("{} points on the axis, {} values", at.len(), value.len()), "as many values as points");
            }
        }
        if problems.list.len() > before { Curve::Constant(0.0) } else { Curve::Table(Table { axis, at, value }) }
    }
}

/// An axis holds a point at least and strictly increases.
pub fn check_axis(at: &[f64], path: &str, problems: &mut Problems) {
    if at.is_empty() {
        problems.at_key(path, "the table is empty", "one point at least");
    }
    if let Some(i) = at.windows(2).position(|pair| pair[0] >= pair[1]) {
        problems.at_key(format!("{path}[{}]", i + 1), format!("{} follows {}", at[i + 1], at[i]), "a strictly increasing axis");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_linear_between_constant_outside() {
        let table = Table { axis: "time_s", at: vec![0.0, 10.0, 20.0], value: vec![1.0, 3.0, 2.0] };
        for (x, want) in [(-5.0, 1.0), (0.0, 1.0), (5.0, 2.0), (10.0, 3.0), (15.0, 2.5), (99.0, 2.0)] {
            assert_eq!(table.value_at(x), want);
        }
    }
}
