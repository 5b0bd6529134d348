//! The JSON schema: committed, valid, accepts the templates, rejects faults.
//!
//! Outside check: the `jsonschema` crate against the draft 2020-12 meta-schema.

use platewright::spec::{key::Kind, read, schema, sections, templates};
use serde_json::Value;

fn json(text: &str) -> Option<Value> {
    let table: toml::Table = toml::from_str(text).ok()?;
    serde_json::to_value(table).ok()
}

fn validator() -> jsonschema::Validator {
    let schema = schema::schema();
    assert!(jsonschema::meta::is_valid(&schema));
    jsonschema::draft202012::new(&schema).unwrap()
}

/// `UPDATE_GOLDEN=1 cargo test --test schema` writes the committed file anew.
#[test]
fn the_committed_schema_is_the_generated_one() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/golden/schema.json");
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(path, schema::text()).unwrap();
    }
    let committed: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert!(
        committed == schema::schema(),
        "tests/golden/schema.json is not up to date: UPDATE_GOLDEN=1 cargo test --test schema"
    );
}

#[test]
fn templates_are_valid() {
    let validator = validator();
    for t in templates::list() {
        let value = json(t.text).unwrap();
        let errors: Vec<String> = validator
            .iter_errors(&value)
            .map(|e| format!("{}: {e}", e.instance_path()))
            .collect();
        assert!(errors.is_empty(), "{}: {errors:#?}", t.name);
    }
}

/// Faults the schema cannot see: TOML itself, text with units out of range, and what
/// needs two values compared.
fn beyond_schema(code: &str, text: &str) -> bool {
    matches!(
        code,
        "syntax" | "duplicate-key" | "nesting" | "empty-file" | "file-too-large" | "not-utf-8"
    ) || (matches!(
        code,
        "out-of-range" | "bad-text" | "bad-number" | "bad-count"
    ) && text.contains("# schema: cannot see"))
}

#[test]
fn single_faults_are_rejected() {
    let validator = validator();
    let mut tried = 0;
    let dir = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/spec/one");
    for entry in std::fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        let Ok(text) = std::fs::read_to_string(&path) else {
            continue;
        };
        if path.extension().is_none_or(|e| e != "toml") {
            continue;
        }
        let wrong = read(&text).unwrap_err();
        if wrong.0.iter().all(|d| beyond_schema(d.code, &text)) {
            continue;
        }
        let value = json(&text).unwrap();
        assert!(!validator.is_valid(&value), "{}", path.display());
        tried += 1;
    }
    assert!(tried >= 45, "{tried}");
}

/// Reader and schema agree on every key: its example is valid, a value of a type it never takes is not.
#[test]
fn each_key_is_checked() {
    let validator = validator();
    let coaster = json(templates::get("coaster").unwrap().text).unwrap();
    for section in sections::FILE.keys {
        let Kind::Table(definition) = section.kind else {
            panic!("{} is no table", section.name)
        };
        if section.name == "adaptor" {
            continue;
        }
        for key in definition.keys {
            let mut file = coaster.clone();
            file[section.name][key.name] = serde_json::json!({ "no": "such thing" });
            assert!(!validator.is_valid(&file), "{}.{}", section.name, key.name);
            let text = toml::to_string(&file).unwrap();
            assert!(read(&text).is_err(), "{}.{}", section.name, key.name);
        }
    }
}
