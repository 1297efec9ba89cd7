//! A JSON value that keeps the order of keys, and a reader that names every wrong, missing, duplicate or unknown key.

use super::problem::{Error, Problems};
use crate::document::Sorting as _;
use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde::ser::{Serialize, SerializeMap, SerializeSeq, Serializer};
use std::fmt;

/// A JSON value. Objects keep their order and duplicates, so that both can be reported.
#[derive(Debug, Clone, PartialEq)]
pub enum Json {
    Null,
    Bool(bool),
    Number(f64),
    Text(String),
    List(Vec<Json>),
    Object(Vec<(String, Json)>),
}

impl Json {
    /// Parses `text`; a syntax error names line and column, duplicate keys are told with their paths.
    pub fn parse(file: &str, text: &str) -> Result<Json, Error> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut problems = Problems::of(file);
        match serde_json::from_str::<Json>(text) {
            Ok(json) => {
                json.duplicates("", &mut problems);
                problems.or_ok(json)
            }
            Err(error) => {
                problems.at_key("", format!("not valid JSON: {error}"), "one JSON document with finite numbers");
                Err(problems.into_error())
            }
        }
    }

    fn duplicates(&self, path: &str, problems: &mut Problems) {
        match self {
            Json::Object(fields) => {
                for (i, (name, value)) in fields.iter().enumerate() {
                    let here = join(path, name);
                    if fields[..i].iter().any(|(earlier, _)| earlier == name) {
                        problems.at_key(&here, format!("the key {name:?} stands twice"), "each key once");
                    }
                    value.duplicates(&here, problems);
                }
            }
            Json::List(items) => {
                for (i, item) in items.iter().enumerate() {
                    item.duplicates(&format!("{path}[{i}]"), problems);
                }
            }
            _ => {}
        }
    }

    /// An object from pairs, in this order.
    pub fn object<const N: usize>(fields: [(&str, Json); N]) -> Json {
        Json::Object(fields.into_iter().map(|(k, v)| (k.to_string(), v)).collect())
    }

    pub fn text(value: impl Into<String>) -> Json {
        Json::Text(value.into())
    }

    /// A number, or null for `None`.
    pub fn number_or_null(value: Option<f64>) -> Json {
        value.map_or(Json::Null, Json::Number)
    }

    pub fn numbers(values: &[f64]) -> Json {
        Json::List(values.iter().map(|v| Json::Number(*v)).collect())
    }

    pub fn get(&self, key: &str) -> Option<&Json> {
        match self {
            Json::Object(fields) => fields.iter().find(|(name, _)| name == key).map(|(_, value)| value),
            _ => None,
        }
    }

    pub fn as_number(&self) -> Option<f64> {
        if let Json::Number(value) = self { Some(*value) } else { None }
    }

    pub fn as_text(&self) -> Option<&str> {
        if let Json::Text(value) = self { Some(value) } else { None }
    }

    /// Compact text, keys in their order, numbers in the shortest form that reads back the same.
    pub fn compact(&self) -> String {
        serde_json::to_string(self).unwrap_or_default()
    }

    /// Indented text with a last line feed.
    pub fn pretty(&self) -> String {
        serde_json::to_string_pretty(self).unwrap_or_default() + "\n"
    }

    /// The canonical form that digests cover: compact, keys sorted bytewise at every level.
    pub fn canonical(&self) -> String {
        self.sorted().compact()
    }

    fn sorted(&self) -> Json {
        match self {
            Json::Object(fields) => {
                let mut fields: Vec<_> = fields.iter().map(|(k, v)| (k.clone(), v.sorted())).collect();
                fields.order_by(|a, b| a.0.cmp(&b.0));
                Json::Object(fields)
            }
            Json::List(items) => Json::List(items.iter().map(Json::sorted).collect()),
            other => other.clone(),
        }
    }

    /// What the value is, for messages: quoted as written and cut at 60 characters.
    pub fn quoted(&self) -> String {
        let text = self.compact();
        if text.chars().count() > 60 { text.chars().take(60).chain("…".chars()).collect() } else { text }
    }
}

fn join(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_string() } else { format!("{path}.{key}") }
}

impl Serialize for Json {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        match self {
            Json::Null => out.serialize_unit(),
            Json::Bool(value) => out.serialize_bool(*value),
            // Whole numbers are written without a point; -0 keeps its sign by the other branch.
            Json::Number(value) if value.fract() == 0.0 && value.abs() < 9e15 && !(*value == 0.0 && value.is_sign_negative()) => {
                out.serialize_i64(*value as i64)
            }
            Json::Number(value) => out.serialize_f64(*value),
            Json::Text(value) => out.serialize_str(value),
            Json::List(items) => {
                let mut list = out.serialize_seq(Some(items.len()))?;
                for item in items {
                    list.serialize_element(item)?;
                }
                list.end()
            }
            Json::Object(fields) => {
                let mut map = out.serialize_map(Some(fields.len()))?;
                for (key, value) in fields {
                    map.serialize_entry(key, value)?;
                }
                map.end()
            }
        }
    }
}

impl<'de> Deserialize<'de> for Json {
    fn deserialize<D: Deserializer<'de>>(input: D) -> Result<Json, D::Error> {
        struct Any;
        impl<'de> Visitor<'de> for Any {
            type Value = Json;
            fn expecting(&self, out: &mut fmt::Formatter) -> fmt::Result {
                out.write_str("a JSON value")
            }
            fn visit_unit<E>(self) -> Result<Json, E> {
                Ok(Json::Null)
            }
            fn visit_bool<E>(self, value: bool) -> Result<Json, E> {
                Ok(Json::Bool(value))
            }
            fn visit_i64<E>(self, value: i64) -> Result<Json, E> {
                Ok(Json::Number(value as f64))
            }
            fn visit_u64<E>(self, value: u64) -> Result<Json, E> {
                Ok(Json::Number(value as f64))
            }
            fn visit_f64<E>(self, value: f64) -> Result<Json, E> {
                Ok(Json::Number(value))
            }
            fn visit_str<E>(self, value: &str) -> Result<Json, E> {
                Ok(Json::Text(value.to_string()))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Json, A::Error> {
                let mut list = Vec::new();
                while let Some(item) = items.next_element()? {
                    list.push(item);
                }
                Ok(Json::List(list))
            }
            fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Json, A::Error> {
                let mut fields = Vec::new();
                while let Some(entry) = entries.next_entry()? {
                    fields.push(entry);
                }
                Ok(Json::Object(fields))
            }
        }
        input.deserialize_any(Any)
    }
}

/// A closed or half-open range for a number, told in the message when a value lies outside.
#[derive(Debug, Clone, Copy)]
pub struct Range {
    pub low: f64,
    pub high: f64,
    /// Whether `low` itself is outside.
    pub above_low: bool,
}

impl Range {
    pub const ANY: Range = Range { low: f64::NEG_INFINITY, high: f64::INFINITY, above_low: false };
    pub const POSITIVE: Range = Range { low: 0.0, high: f64::INFINITY, above_low: true };
    pub const NOT_NEGATIVE: Range = Range { low: 0.0, high: f64::INFINITY, above_low: false };

    pub const fn between(low: f64, high: f64) -> Range {
        Range { low, high, above_low: false }
    }

    pub const fn above_to(low: f64, high: f64) -> Range {
        Range { low, high, above_low: true }
    }

    pub fn holds(&self, value: f64) -> bool {
        value.is_finite() && value <= self.high && if self.above_low { value > self.low } else { value >= self.low }
    }
}

impl fmt::Display for Range {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.low.is_finite(), self.high.is_finite(), self.above_low) {
            (true, true, false) => write!(out, "a number from {} to {}", self.low, self.high),
            (true, true, true) => write!(out, "a number above {} to {}", self.low, self.high),
            (true, false, false) => write!(out, "a number from {} up", self.low),
            (true, false, true) => write!(out, "a number above {}", self.low),
            (false, true, _) => write!(out, "a number up to {}", self.high),
            (false, false, _) => write!(out, "a finite number"),
        }
    }
}

/// A JSON object being read: remembers which keys were asked for, so that `finish` can name the unknown ones.
pub struct Object<'a> {
    fields: &'a [(String, Json)],
    path: String,
    asked: Vec<&'static str>,
}

impl<'a> Object<'a> {
    /// Opens `node` as an object; tells a problem and returns `None` where it is something else.
    pub fn open(node: &'a Json, path: impl Into<String>, problems: &mut Problems) -> Option<Object<'a>> {
        let path = path.into();
        match node {
            Json::Object(fields) => Some(Object { fields, path, asked: Vec::new() }),
            other => {
                problems.at_key(path, format!("{} is no object", other.quoted()), "an object {…}");
                None
            }
        }
    }

    /// The path of a key within this object.
    pub fn path_of(&self, key: &str) -> String {
        join(&self.path, key)
    }

    /// The value of an optional key; an explicit null counts as given.
    pub fn optional(&mut self, key: &'static str) -> Option<&'a Json> {
        self.asked.push(key);
        self.fields.iter().find(|(name, _)| name == key).map(|(_, value)| value)
    }

    /// The value of a required key; tells a problem where it is missing.
    pub fn required(&mut self, key: &'static str, problems: &mut Problems) -> Option<&'a Json> {
        let found = self.optional(key);
        if found.is_none() {
            problems.at_key(self.path_of(key), format!("the key {key:?} is missing"), "this key is required");
        }
        found
    }

    /// A required number within `range`; 0 after a problem was told.
    pub fn number(&mut self, key: &'static str, range: Range, problems: &mut Problems) -> f64 {
        let path = self.path_of(key);
        self.required(key, problems).map_or(0.0, |node| number(node, &path, range, problems).unwrap_or(0.0))
    }

    /// An optional number within `range`, else `default`.
    pub fn number_or(&mut self, key: &'static str, range: Range, default: f64, problems: &mut Problems) -> f64 {
        let path = self.path_of(key);
        self.optional(key).map_or(default, |node| number(node, &path, range, problems).unwrap_or(default))
    }

    /// A number or null; `None` when the key is absent or null.
    pub fn number_or_null(&mut self, key: &'static str, range: Range, problems: &mut Problems) -> Option<f64> {
        let path = self.path_of(key);
        match self.optional(key) {
            None | Some(Json::Null) => None,
            Some(node) => number(node, &path, range, problems),
        }
    }

    /// A required text.
    pub fn text(&mut self, key: &'static str, problems: &mut Problems) -> String {
        let path = self.path_of(key);
        self.required(key, problems).map_or(String::new(), |node| text(node, &path, problems).unwrap_or_default())
    }

    /// An optional text, else `default`.
    pub fn text_or(&mut self, key: &'static str, default: &str, problems: &mut Problems) -> String {
        let path = self.path_of(key);
        self.optional(key).map_or(default.to_string(), |node| text(node, &path, problems).unwrap_or_default())
    }

    /// Checks the `"format"` key: `expected` is the whole text such as `tileglow-entry/1`. Returns whether it agrees.
    pub fn format(&mut self, expected: &str, problems: &mut Problems) -> bool {
        let path = self.path_of("format");
        let Some(node) = self.optional("format") else {
            problems.at_key(path, "the key \"format\" is missing", format!("\"format\": {expected:?}"));
            return false;
        };
        let good = node.as_text() == Some(expected);
        if !good {
            problems.at_key(path, format!("{} is not a format this version reads here", node.quoted()), format!("{expected:?}"));
        }
        good
    }

    /// One word of a list, else a problem that lists them. `None` where missing or wrong.
    pub fn word(&mut self, key: &'static str, words: &[&str], problems: &mut Problems) -> Option<String> {
        let path = self.path_of(key);
        let node = self.required(key, problems)?;
        word(node, &path, words, problems)
    }

    /// As `word`, with a default for an absent key.
    pub fn word_or(&mut self, key: &'static str, words: &[&str], default: &str, problems: &mut Problems) -> String {
        let path = self.path_of(key);
        match self.optional(key) {
            None => default.to_string(),
            Some(node) => word(node, &path, words, problems).unwrap_or_else(|| default.to_string()),
        }
    }

    /// Opens an optional child object.
    pub fn child(&mut self, key: &'static str, problems: &mut Problems) -> Option<Object<'a>> {
        let path = self.path_of(key);
        self.optional(key).and_then(|node| Object::open(node, path, problems))
    }

    /// Every key that nobody asked for is a problem that lists the accepted ones.
    pub fn finish(self, problems: &mut Problems) {
        for (name, _) in self.fields {
            if !self.asked.contains(&name.as_str()) {
                problems.at_key(join(&self.path, name), format!("unknown key {name:?}"), self.asked.join(", "));
            }
        }
    }
}

/// `node` as a number in `range`, or a problem.
pub fn number(node: &Json, path: &str, range: Range, problems: &mut Problems) -> Option<f64> {
    match node {
        Json::Number(value) if range.holds(*value) => Some(*value),
        other => {
            problems.at_key(path, format!("{} is out of range or no number", other.quoted()), range.to_string());
            None
        }
    }
}

/// `node` as a text, or a problem.
pub fn text(node: &Json, path: &str, problems: &mut Problems) -> Option<String> {
    match node {
        Json::Text(value) => Some(value.clone()),
        other => {
            problems.at_key(path, format!("{} is no text", other.quoted()), "a text in quotes");
            None
        }
    }
}

/// `node` as one of `words`, or a problem that lists them.
pub fn word(node: &Json, path: &str, words: &[&str], problems: &mut Problems) -> Option<String> {
    match node.as_text().filter(|value| words.contains(value)) {
        Some(value) => Some(value.to_string()),
        None => {
            problems.at_key(path, format!("{} is not known here", node.quoted()), words.join(", "));
            None
        }
    }
}

/// `node` as a list, or a problem and an empty list.
pub fn list<'a>(node: &'a Json, path: &str, problems: &mut Problems) -> &'a [Json] {
    match node {
        Json::List(items) => items,
        other => {
            problems.at_key(path, format!("{} is no list", other.quoted()), "a list […]");
            &[]
        }
    }
}

/// `node` as a list of numbers, each in `range`.
pub fn numbers(node: &Json, path: &str, range: Range, problems: &mut Problems) -> Vec<f64> {
    list(node, path, problems).iter().enumerate().filter_map(|(i, item)| number(item, &format!("{path}[{i}]"), range, problems)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_unknown_missing_and_duplicate_keys_are_named_with_their_path() {
        assert!(Json::parse("a.json", r#"{"x":1,"y":{"z":2,"z":3}}"#).unwrap_err().to_string().contains("y.z"));
        let json = Json::parse("a.json", r#"{"x":1,"q":2}"#).unwrap();
        let mut problems = Problems::of("a.json");
        let mut object = Object::open(&json, "", &mut problems).unwrap();
        assert_eq!(object.number("x", Range::POSITIVE, &mut problems), 1.0);
        object.number("w", Range::POSITIVE, &mut problems);
        object.finish(&mut problems);
        let text = problems.into_error().to_string();
        assert!(text.contains("\"w\" is missing") && text.contains("unknown key \"q\"") && text.contains("x, w"), "{text}");
    }

    #[test]
    fn verif_numbers_beyond_a_double_are_bad_input() {
        for text in ["1e999", "-1e999", "NaN", "Infinity"] {
            assert!(Json::parse("a.json", &format!("{{\"x\":{text}}}")).is_err(), "{text}");
        }
    }

    #[test]
    fn verif_canonical_text_sorts_keys_and_keeps_doubles() {
        let json = Json::parse("a", r#"{"b":0.1,"a":{"d":120000.0,"c":1e-300}}"#).unwrap();
        assert_eq!(json.canonical(), r#"{"a":{"c":1e-300,"d":120000},"b":0.1}"#);
    }
}
