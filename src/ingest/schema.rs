//! JSON Schemas of `trial.toml` and of a criteria file, made of the tables of keys that reading checks against: they cannot go stale.

use super::blank::stated_by_nobody;
use super::settings::{CRITERIA_KEYS, KEYS, Key, KeyKind, Sign};
use serde_json::{Map, Value, json};

const DIALECT: &str = "https://json-schema.org/draft/2020-12/schema";
/// Numbers larger than this are refused by reading, whatever their unit; nought apart, so are those smaller than `LEAST`.
const MOST: f64 = 1e7;
const LEAST: f64 = 1e-9;

/// The JSON Schema of `trial.toml` (draft 2020-12): every key, with type, range, meaning, and its default or an example.
///
/// What one key says of another (the larger end of a span, limits that need a quantity, a bar shorter than its collars) is not in it:
/// `check` tells that.
#[must_use]
pub fn settings_schema() -> Value {
    let title = "trial.toml: settings of a trial";
    let about =
        "What is known of machine, bar, cut and gauges. Every key may be left out. Lengths may be stated in inches: _mm becomes _in.";
    root(title, about, KEYS)
}

/// The JSON Schema of a criteria file (draft 2020-12).
#[must_use]
pub fn criteria_schema() -> Value {
    root("criteria file: a set of limits", "Limits to judge by, each with its source.", CRITERIA_KEYS)
}

fn root(title: &str, about: &str, keys: &[Key]) -> Value {
    let shown = stated_by_nobody();
    let mut schema = Map::new();
    schema.insert("$schema".to_owned(), DIALECT.into());
    schema.insert("title".to_owned(), title.into());
    schema.insert("description".to_owned(), about.into());
    schema.extend(table(keys, "", &shown));
    Value::Object(schema)
}

/// The schema of the table at `path`: its keys with their twins, its tables, its arrays of tables.
fn table(keys: &[Key], path: &str, shown: &dyn Fn(&Key) -> (String, bool)) -> Map<String, Value> {
    let mut properties = Map::new();
    let mut others = Value::Bool(false);
    let mut twins = Vec::new();
    let prefix = if path.is_empty() { String::new() } else { format!("{path}.") };
    for key in keys {
        let Some(rest) = key.path.strip_prefix(prefix.as_str()) else { continue };
        match rest.split_once('.') {
            None => {
                properties.insert(rest.to_owned(), metric(key, shown));
                if let Some(twin) = key.inch_twin() {
                    twins.push(json!({ "not": { "required": [rest, twin] } }));
                    properties.insert(twin, inch(key));
                }
            }
            Some((child, _)) => {
                let below = format!("{prefix}{child}");
                if child == "*" {
                    others = Value::Object(table(keys, &below, shown));
                } else if let Some(array) = child.strip_suffix("[]") {
                    properties
                        .entry(array)
                        .or_insert_with(|| json!({ "type": "array", "items": Value::Object(table(keys, &below, shown)) }));
                } else {
                    properties.entry(child).or_insert_with(|| Value::Object(table(keys, &below, shown)));
                }
            }
        }
    }
    let mut schema = Map::new();
    schema.insert("type".to_owned(), "object".into());
    schema.insert("properties".to_owned(), Value::Object(properties));
    schema.insert("additionalProperties".to_owned(), others);
    if !twins.is_empty() {
        schema.insert("allOf".to_owned(), Value::Array(twins)); // one of both units, not both
    }
    schema
}

/// The schema of a key as it stands in the table of keys.
fn metric(key: &Key, shown: &dyn Fn(&Key) -> (String, bool)) -> Value {
    let mut schema = value(key.kind, false);
    let (text, is_example) = shown(key);
    let parsed = match key.kind {
        KeyKind::Date => Some(Value::from(text)), // a date of TOML has no like in JSON but text
        _ => toml::from_str::<Map<String, Value>>(&format!("value = {text}")).ok().and_then(|mut table| table.remove("value")),
    };
    if let Some(object) = schema.as_object_mut() {
        object.insert("description".to_owned(), key.about.into());
        match parsed {
            Some(parsed) if is_example => object.insert("examples".to_owned(), Value::Array(vec![parsed])),
            Some(parsed) if key.path != "trial.name" => object.insert("default".to_owned(), parsed), // which is the folder's name
            _ => None,
        };
    }
    schema
}

/// The schema of a key's inch twin.
fn inch(key: &Key) -> Value {
    let mut schema = value(key.kind, true);
    if let Some(object) = schema.as_object_mut() {
        object.insert("description".to_owned(), format!("{}; in place of {}", key.about, key.name()).into());
    }
    schema
}

fn value(kind: KeyKind, inch: bool) -> Value {
    match kind {
        KeyKind::Text => json!({ "type": "string" }),
        KeyKind::Date => json!({ "type": "string", "format": "date" }),
        KeyKind::Flag => json!({ "type": "boolean" }),
        KeyKind::Whole { least } => json!({ "type": "integer", "minimum": least, "maximum": u32::MAX }),
        KeyKind::Number(sign) | KeyKind::Length(sign) | KeyKind::Feed(sign) | KeyKind::Slope(sign) => number(sign),
        KeyKind::Temperature if inch => json!({ "type": "number", "minimum": -58, "maximum": 212 }),
        KeyKind::Temperature => json!({ "type": "number", "minimum": -50, "maximum": 100 }),
        KeyKind::TemperatureDifference => number(Sign::NotNegative),
        KeyKind::Pitch => number(Sign::Positive),
        KeyKind::Numbers(sign) | KeyKind::Lengths(sign) | KeyKind::Feeds(sign) => json!({ "type": "array", "items": number(sign) }),
        KeyKind::Spans => {
            let pair = json!({ "type": "array", "items": number(Sign::NotNegative), "minItems": 2, "maxItems": 2 });
            json!({ "type": "array", "items": pair })
        }
        KeyKind::Word(words) => json!({ "type": "string", "enum": words }),
        KeyKind::Words(words) => json!({ "type": "array", "items": { "type": "string", "enum": words } }),
    }
}

fn number(sign: Sign) -> Value {
    let (least, most) = match sign {
        Sign::Any => (-MOST, MOST),
        Sign::NotNegative => (0.0, MOST),
        Sign::Positive => (LEAST, MOST),
        Sign::Fraction => (0.0, 1.0),
        Sign::Factor => (1.0, MOST),
    };
    json!({ "type": "number", "minimum": least, "maximum": most })
}
