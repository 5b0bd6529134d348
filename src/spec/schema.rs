//! The parameter file as a JSON schema (draft 2020-12), for editors.
//!
//! Input: the keys' definitions. Output: the schema.
//! Says less than the reader: ranges of text with units, text rules and geometry
//! are checked by reading only. Says more in one place: metals and plastics must
//! be written by their keys.

use super::key::{Case, Kind, Rule, Section, Variants};
use super::sections::FILE;
use crate::base::dimension::Dimension;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// The schema.
pub fn schema() -> Value {
    let mut shared = BTreeMap::new();
    let mut root = object(FILE, &mut shared);
    root.insert(
        "$schema".into(),
        json!("https://json-schema.org/draft/2020-12/schema"),
    );
    root.insert("title".into(), json!("Platewright parameter file"));
    root.insert("$defs".into(), json!(shared));
    let kind = |word: &str| {
        json!({
            "properties": { "job": { "properties": { "kind": { "const": word } }, "required": ["kind"] } },
            "required": ["job"]
        })
    };
    // A pressed-on nozzle has no thread.
    let nozzle = json!({
        "if": { "properties": { "joint": { "const": "seat" } }, "required": ["joint"] },
        "else": { "required": ["thread"] }
    });
    let without = |other: &str| -> Map<String, Value> {
        let names = super::read::NOT_FOR_ADAPTOR.into_iter().chain([other]);
        names.map(|n| (n.to_owned(), json!(false))).collect()
    };
    root.insert(
        "allOf".into(),
        json!([{
            "if": kind("adaptor"),
            "then": {
                "required": ["adaptor", "nozzle"],
                "properties": { "adaptor": { "required": ["pattern"] }, "nozzle": nozzle }
            },
            "else": { "properties": { "adaptor": false } }
        }, {
            "if": kind("reducer"),
            "then": {
                "required": ["reducer", "nozzle"],
                "properties": { "reducer": { "required": ["outlet"] }, "nozzle": nozzle }
            },
            "else": { "properties": { "reducer": false } }
        }, {
            "if": kind("adaptor"),
            "then": { "properties": without("reducer") },
            "else": {
                "if": kind("reducer"),
                "then": { "properties": without("adaptor") },
                "else": { "required": ["part"] }
            }
        }, {
            "if": {
                "properties": { "feed": { "properties": { "direct": { "const": true } }, "required": ["direct"] } },
                "required": ["feed"]
            },
            "then": { "properties": { "mold": { "properties": { "cavities": { "maximum": 1 } } } } }
        }]),
    );
    Value::Object(root)
}

/// The schema as text that ends with a line break.
pub fn text() -> String {
    format!("{:#}\n", schema())
}

type Shared = BTreeMap<String, Value>;

fn object(section: &Section, shared: &mut Shared) -> Map<String, Value> {
    let mut properties = Map::new();
    for key in section.keys {
        let mut value = kind(key.kind, shared);
        let left_out = match key.default {
            "" => String::new(),
            _ if key.is_required() => " Must be given.".to_owned(),
            default => format!(" Left out: {default}."),
        };
        value.insert(
            "description".into(),
            json!(format!("{}{left_out}", key.doc)),
        );
        if let Some(example) = example(key.example) {
            value.insert("examples".into(), json!([example]));
        }
        properties.insert(key.name.into(), Value::Object(value));
    }
    let required: Vec<&str> = section
        .keys
        .iter()
        .filter(|k| k.is_required())
        .map(|k| k.name)
        .collect();
    let mut all: Vec<Value> = section.rules.iter().flat_map(rule).collect();
    if let Some(variants) = section.variants {
        all.extend(variants.cases.iter().map(|c| case(section, variants, c)));
    }
    let mut map = Map::new();
    map.insert("type".into(), json!("object"));
    map.insert("description".into(), json!(section.about));
    map.insert("properties".into(), Value::Object(properties));
    map.insert("additionalProperties".into(), json!(false));
    if !required.is_empty() {
        map.insert("required".into(), json!(required));
    }
    if !all.is_empty() {
        map.insert("allOf".into(), Value::Array(all));
    }
    map
}

/// An example of a key as JSON.
fn example(toml: &str) -> Option<Value> {
    let table: toml::Table = toml::from_str(&format!("x = {toml}")).ok()?;
    serde_json::to_value(table.get("x")?).ok()
}

fn rule(rule: &Rule) -> Vec<Value> {
    let pairs = |keys: &[&str]| -> Vec<Value> {
        let mut list = Vec::new();
        for (i, a) in keys.iter().enumerate() {
            for b in &keys[i + 1..] {
                list.push(json!({ "not": { "required": [a, b] } }));
            }
        }
        list
    };
    match *rule {
        Rule::AtMostOne(keys) => pairs(keys),
        Rule::ExactlyOne(keys) => {
            let each: Vec<Value> = keys.iter().map(|k| json!({ "required": [k] })).collect();
            vec![json!({ "oneOf": each })]
        }
        Rule::Together(keys) => {
            let each: Map<String, Value> = keys
                .iter()
                .map(|k| ((*k).to_owned(), json!(keys)))
                .collect();
            vec![json!({ "dependentRequired": each })]
        }
        Rule::Needs(key, other) => vec![json!({ "dependentRequired": { key: [other] } })],
        Rule::OnlyWith {
            selector,
            word,
            keys,
        } => {
            let with =
                json!({ "properties": { selector: { "const": word } }, "required": [selector] });
            let each: Map<String, Value> = keys
                .iter()
                .map(|k| ((*k).to_owned(), with.clone()))
                .collect();
            vec![json!({ "dependentSchemas": each })]
        }
        Rule::NotWith { flag, keys } => {
            let without: Map<String, Value> = keys
                .iter()
                .map(|k| ((*k).to_owned(), json!(false)))
                .collect();
            vec![json!({
                "if": { "properties": { flag: { "const": true } }, "required": [flag] },
                "then": { "properties": without }
            })]
        }
    }
}

/// What holds when the selector is this case's word.
fn case(section: &Section, variants: Variants, case: &Case) -> Value {
    let refused: Map<String, Value> = section
        .keys
        .iter()
        .filter(|k| variants.mentions(k.name) && !case.takes(k.name))
        .map(|k| (k.name.to_owned(), json!(false)))
        .collect();
    let mut then = Map::new();
    then.insert("required".into(), json!(case.needs));
    then.insert("properties".into(), Value::Object(refused));
    let rules: Vec<Value> = case.rules.iter().flat_map(rule).collect();
    if !rules.is_empty() {
        then.insert("allOf".into(), Value::Array(rules));
    }
    json!({
        "if": { "properties": { variants.selector: { "const": case.word } }, "required": [variants.selector] },
        "then": then
    })
}

/// File endings as a pattern, capital letters allowed: `[sS][vV][gG]|...`.
fn any_case(endings: &[&str]) -> String {
    let one = |e: &&str| -> String {
        e.chars()
            .map(|c| match c.to_ascii_uppercase() {
                upper if upper == c => c.to_string(),
                upper => format!("[{c}{upper}]"),
            })
            .collect()
    };
    endings.iter().map(one).collect::<Vec<_>>().join("|")
}

fn kind(kind: Kind, shared: &mut Shared) -> Map<String, Value> {
    let value = match kind {
        Kind::Quantity {
            dimension,
            min,
            max,
        } => quantity(dimension, min, max),
        Kind::Count { min, max } => json!({ "type": "integer", "minimum": min, "maximum": max }),
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::Text(max) => json!({ "type": "string", "minLength": 1, "maxLength": max }),
        Kind::Name(max) => json!({
            "type": "string",
            "maxLength": max,
            "pattern": "^[a-z0-9]([a-z0-9-]*[a-z0-9])?$"
        }),
        Kind::File(endings) => json!({
            "type": "string",
            "maxLength": 200,
            "pattern": format!("^[^\\\\:]+\\.({})$", any_case(endings))
        }),
        Kind::Word(words) | Kind::Plastic(words) | Kind::Material(words) | Kind::Screw(words) => {
            json!({ "enum": words })
        }
        Kind::Words(words) => json!({
            "type": "array", "items": { "enum": words }, "minItems": 1, "maxItems": 40
        }),
        Kind::Texts(max) => json!({
            "type": "array",
            "items": { "type": "string", "minLength": 1, "maxLength": max },
            "minItems": 1,
            "maxItems": 40
        }),
        Kind::Lengths { min, max } => json!({
            "type": "array",
            "items": quantity(Dimension::Length, min, max),
            "minItems": 1,
            "maxItems": 40
        }),
        Kind::Drills { min, max } => json!({ "anyOf": [
            { "enum": ["inch", "metric"] },
            {
                "type": "array",
                "items": quantity(Dimension::Length, min, max),
                "minItems": 1,
                "maxItems": 40
            }
        ] }),
        Kind::Turnings { min, max } => json!({
            "type": "array",
            "items": quantity(Dimension::Rotation, min, max),
            "minItems": 1,
            "maxItems": 40
        }),
        Kind::Corners { max } => {
            let one = quantity(Dimension::Length, 0.0, max);
            json!({ "anyOf": [one, { "type": "array", "items": one, "minItems": 4, "maxItems": 4 }] })
        }
        Kind::Point(max) => json!({
            "type": "array",
            "items": quantity(Dimension::Length, -max, max),
            "minItems": 2,
            "maxItems": 2
        }),
        Kind::PipeThread => {
            let sizes: Vec<&str> = crate::data::pipe::sizes().collect();
            let sizes = sizes.join("|");
            json!({
                "type": "string",
                "pattern": format!(
                    "^\\s*(([Gg]|[Rr][PpCc]|[Nn][Pp][Tt])\\s*({sizes})|({sizes})(-[0-9.]+)?\\s*([Gg]|[Rr][PpCc]|[Nn][Pp][Tt]))\\s*$"
                )
            })
        }
        Kind::Table(section) => reference(section, shared),
        Kind::Tables(section, most) => json!({
            "type": "array", "items": reference(section, shared), "maxItems": most
        }),
    };
    match value {
        Value::Object(map) => map,
        other => Map::from_iter([("const".to_owned(), other)]),
    }
}

/// A table: under its name among the shared definitions.
fn reference(section: &Section, shared: &mut Shared) -> Value {
    if !shared.contains_key(section.name) {
        // Reserve the name first: no table holds itself, but the order stays stable.
        shared.insert(section.name.into(), Value::Null);
        let made = Value::Object(object(section, shared));
        shared.insert(section.name.into(), made);
    }
    json!({ "$ref": format!("#/$defs/{}", section.name) })
}

fn quantity(dimension: Dimension, min: f64, max: f64) -> Value {
    let number = "[-+]?([0-9]+([.][0-9]*)?|[.][0-9]+)([eE][-+]?[0-9]+)?";
    let fraction = "[-+]?([0-9]+[ -])?[0-9]+/[0-9]+";
    // No unit holds a character that means something in a pattern.
    let units = dimension.spellings();
    let unit = match dimension {
        Dimension::Number => "(\\s*:\\s*[0-9.]+)?".to_owned(),
        Dimension::Ratio => format!("({})?", units.join("|")),
        _ => format!("({})", units.join("|")),
    };
    json!({
        "anyOf": [
            { "type": "number", "minimum": min, "maximum": max },
            { "type": "string", "pattern": format!("^\\s*({fraction}|{number})\\s*{unit}\\s*$") }
        ]
    })
}
