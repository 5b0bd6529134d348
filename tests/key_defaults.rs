//! What a key's help says happens when it is left out is what `design` does.

use platewright::base::Origin;
use platewright::design::{self, Hints};
use platewright::pipeline;
use platewright::spec::{read, sections, templates};

const SHORT: &str = "[part]\nthickness = 4\noutline = { shape = \"circle\", diameter = 90 }\n";
const SHORT_ADAPTOR: &str = "[job]\nkind = \"adaptor\"\n[nozzle]\nthread = \"G 1/2\"\n[adaptor]\npattern = { pattern = \"circle\", count = 4, diameter = 60 }\n";
const SHORT_REDUCER: &str = "[job]\nkind = \"reducer\"\n[nozzle]\nthread = \"G 1/2\"\n[reducer]\noutlet = { end = \"male\", thread = \"G 3/4\" }\n";

/// A default that begins with a value ("6 mm, one pass …") begins with the decided value.
#[test]
fn defaults_begin_with_the_decided_value() {
    let mut compared = 0;
    let two = SHORT.to_owned() + "[mold]\ncavities = 2\n";
    let welded = SHORT.to_owned() + "[nozzle]\njoint = \"welded\"\n[mold]\nthickness_a = 20\n";
    for text in [SHORT, &two, &welded, SHORT_ADAPTOR, SHORT_REDUCER] {
        let job = read(text).unwrap();
        let design = design::design(&job, "x", &Hints::default()).unwrap();
        for d in &design.decisions.0 {
            let Some(key) = sections::find(&d.key) else {
                continue;
            };
            if d.origin != Origin::Rule {
                continue;
            }
            let first = key.default.split([',', ';', ':']).next().unwrap_or("");
            let is_value = first.split(' ').count() <= 2
                && (first.starts_with(|c: char| c.is_ascii_digit())
                    || first == "tapped"
                    || first.starts_with("G ")
                    || first == "M8"
                    || first == "PP"
                    || first == "clearance");
            // "1:24 (2.387 deg)" and "0.6 × part thickness" are rules, not values.
            if !is_value || key.default.starts_with("1:24") {
                continue;
            }
            let shown = d.value.to_lowercase();
            if d.key.ends_with(".material") && text.contains("welded") {
                assert_eq!(d.value, "S235");
                continue;
            }
            assert!(
                shown.starts_with(&first.to_lowercase()),
                "{}: help says {first}, decided {}",
                d.key,
                d.value
            );
            compared += 1;
        }
    }
    assert!(compared >= 30, "{compared}");
}

/// Every template is designed without a fault.
#[test]
fn templates_can_be_designed() {
    for t in templates::list() {
        let job = pipeline::read(t.text.as_bytes(), &|file| t.file(file)).unwrap();
        let design = design::design(&job, t.name, &Hints::default())
            .unwrap_or_else(|e| panic!("{}: {e:#?}", t.name));
        assert!(!design.plates.is_empty());
    }
}
