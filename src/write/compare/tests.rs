use super::*;
use serde_json::json;

fn design() -> Value {
    let bolt = |tag: &str, x: f64| json!({ "tag": tag, "purpose": "bolt", "face": "low", "shape": "hole", "at": [x, 0.0], "steps": [{ "dia": 9.0 }] });
    json!({
        "title": "Lid", "revision": "1",
        "decisions": [
            { "key": "part.thickness", "value": "4 mm", "origin": "file" },
            { "key": "mold.thickness_b", "value": "25 mm", "origin": "rule" },
        ],
        "findings": [
            { "level": "stop", "code": "plates-bow", "at": "bolts", "what": "0.112 mm" },
            { "level": "note", "code": "weld-line", "at": "x", "what": "two meet" },
        ],
        "plates": [{ "name": "plate-b", "features": [bolt("B1", -10.0), bolt("B2", 10.0)] }],
        "solids": [{ "name": "plate-b", "mass_g": 1000.0 }, { "name": "part", "mass_g": 20.0 }],
        "minutes": { "plate-b": 90.0 },
    })
}

#[test]
fn the_same_state_has_no_changes() {
    let a = State::of(&design(), &Value::Null);
    let none = changes(&a, &a);
    assert!(none.is_empty() && none.lines().is_empty());
}

#[test]
fn every_kind_of_change_is_told_with_both_numbers() {
    let mut other = design();
    other["decisions"][1]["value"] = json!("32 mm");
    other["findings"][0] =
        json!({ "level": "warn", "code": "hand-force-high", "at": "machine", "what": "much" });
    other["solids"][0]["mass_g"] = json!(1320.0);
    other["minutes"]["plate-b"] = json!(120.0);
    // One moved, one with another hole, one new; tags are renumbered.
    let features = other["plates"][0]["features"]
        .as_array_mut()
        .expect("a list");
    features[0]["at"] = json!([-12.0, 0.0]);
    features[1]["steps"][0]["dia"] = json!(11.0);
    features.insert(
        0,
        json!({ "tag": "B0", "purpose": "jack", "face": "high", "at": [0.0, 5.0] }),
    );
    let all = changes(
        &State::of(&design(), &Value::Null),
        &State::of(&other, &Value::Null),
    );
    let lines = all.lines();
    assert_eq!(lines.len(), 5);
    assert_eq!(lines[0].1, "mold.thickness_b 25 mm → 32 mm");
    assert_eq!(
        lines[1].1,
        "released now; gone: stop plates-bow; new: warn hand-force-high"
    );
    assert_eq!(lines[2].1, "plates 1 → 1.32 kg (+0.32 kg)");
    assert_eq!(lines[3].1, "machining 1.5 → 2 h (+0.5 h)");
    assert_eq!(lines[4].1, "as before");
    let features: Vec<(What, &str)> = all
        .features
        .iter()
        .map(|f| (f.what, f.purpose.as_str()))
        .collect();
    assert_eq!(
        features,
        [
            (What::Moved, "bolt"),
            (What::Resized, "bolt"),
            (What::Added, "jack")
        ]
    );
    assert_eq!(
        all.features[0].words(),
        "plate-b: bolt B1 moved from X -10, Y 0 to X -12, Y 0"
    );
    let markup = all.markup();
    for part in [
        "25 mm",
        "32 mm",
        "plates-bow",
        "hand-force-high",
        "+0.32 kg",
        "jack",
    ] {
        assert!(markup.contains(part), "{part}");
    }
}
