use super::*;
use crate::process::run::tests::coaster;

fn options() -> ProcessOptions {
    ProcessOptions {
        cells: 250,
        ..ProcessOptions::quick()
    }
}

fn number(value: &Value) -> f64 {
    match value {
        Value::Number(v) => *v,
        Value::Word(word) => panic!("{word} is no number"),
    }
}

fn by_pressure(values: &[Value]) -> Result<Design, NoDesign> {
    let mut d = coaster(3.0);
    d.machine.pressure = number(&values[0]);
    Ok(d)
}

fn sweep(values: &[f64]) -> Sweep {
    Sweep {
        key: "machine.pressure".into(),
        unit: "MPa".into(),
        shown: None,
        values: values.iter().copied().map(Value::Number).collect(),
    }
}

#[test]
fn more_pressure_fills_more() {
    let s = study(
        &[sweep(&[1.0, 4.0, 16.0])],
        (Share::WHOLE, &[]),
        &by_pressure,
        &options(),
        &|_| true,
    )
    .unwrap();
    assert!(s.missing == 0 && s.rows.len() == 3);
    let filled: Vec<f64> = s
        .rows
        .iter()
        .map(|r| r.metrics.as_ref().unwrap().filled.unwrap())
        .collect();
    assert!(filled.windows(2).all(|w| w[1] >= w[0] - 1e-9), "{filled:?}");
    assert_eq!(s.to_csv().lines().count(), 4);
    // How each run ended, and the worst that was found.
    let csv = s.to_csv();
    let head = csv.lines().next().unwrap();
    assert!(head.contains("filled [%]") && head.contains("fill ended,stops,worst finding"));
    assert!(
        csv.contains("stop: short-shot") && csv.contains(",full,"),
        "{csv}"
    );
    assert!(s.to_svg().starts_with("<svg") && s.to_svg().contains("machine.pressure"));
}

#[test]
fn stopped_early_it_keeps_what_is_done() {
    let values: Vec<f64> = (1..40).map(f64::from).collect();
    let two = |e: Ended<'_>| e.done < 2;
    let some = study(
        &[sweep(&values)],
        (Share::WHOLE, &[]),
        &by_pressure,
        &options(),
        &two,
    )
    .unwrap();
    assert!(!some.rows.is_empty() && some.rows.len() + some.missing == values.len());
    assert!(some.missing > 0);
    // What is done is not done again, and what comes of it is what one go would have brought.
    let values = &values[..4];
    let again = |have: &[StudyRow]| {
        let fresh = AtomicUsize::new(0);
        let count = |_: Ended<'_>| fresh.fetch_add(1, Ordering::Relaxed) < 100;
        let s = study(
            &[sweep(values)],
            (Share::WHOLE, have),
            &by_pressure,
            &options(),
            &count,
        );
        (s.unwrap(), fresh.into_inner())
    };
    let (whole, all) = again(&[]);
    assert_eq!(all, 4);
    let text = serde_json::to_string(&whole.rows[..2]).unwrap();
    let kept: Vec<StudyRow> = serde_json::from_str(&text).unwrap();
    let (rest, fresh) = again(&kept);
    assert_eq!((fresh, rest.to_json()), (2, whole.to_json()));
}

#[test]
fn shares_put_together_are_the_whole() {
    let values = [2.0, 4.0, 8.0, 16.0, 32.0];
    let share = |share: Share, have: &[StudyRow]| {
        study(
            &[sweep(&values)],
            (share, have),
            &by_pressure,
            &options(),
            &|_| true,
        )
        .unwrap()
    };
    let whole = share(Share::WHOLE, &[]);
    let mut rows = Vec::new();
    for number in 1..=3 {
        let s = share(Share { number, of: 3 }, &[]);
        assert_eq!(s.rows.len() + s.missing, 5);
        rows.extend(s.rows);
    }
    assert_eq!(rows.len(), 5);
    assert_eq!(share(Share::WHOLE, &rows), whole);
    for bad in ["0/8", "9/8", "3", "3/0", "a/b", "1/5000"] {
        assert!(bad.parse::<Share>().is_err(), "{bad}");
    }
    assert_eq!("3/8".parse(), Ok(Share { number: 3, of: 8 }));
}

#[test]
fn words_stand_at_their_places_and_what_is_free_is_framed() {
    let of = |words: &[&str]| Sweep {
        key: "plastic.kind".into(),
        unit: String::new(),
        shown: None,
        values: words.iter().map(|w| Value::Word((*w).into())).collect(),
    };
    let make = |v: &[Value]| {
        by_pressure(&[Value::Number(if v[0] == Value::Word("PP".into()) {
            16.0
        } else {
            0.5
        })])
    };
    let one = [of(&["PP", "HDPE & more"])];
    let s = study(&one, (Share::WHOLE, &[]), &make, &options(), &|_| true).unwrap();
    let plot = s.to_svg();
    assert!(
        plot.contains(">PP<") && plot.contains("HDPE &amp; more") && !plot.contains("polyline")
    );
    assert!(s.to_csv().contains("\nPP,") && s.to_csv().contains("\nHDPE & more,"));
    let two = [of(&["PP", "HDPE"]), sweep(&[1.0, 2.0])];
    let mut s = study(&two, (Share::WHOLE, &[]), &make, &options(), &|_| true).unwrap();
    for row in &mut s.rows {
        let m = row.metrics.as_mut().unwrap();
        let free = row.values[0] == Value::Word("PP".into());
        m.worst = Some((if free { Level::Note } else { Level::Warn }, Code::WeldLine));
    }
    let plot = s.to_svg();
    // Two tiles, one above the other, are free: six sides.
    let frame = plot.split("<path d='").nth(1).unwrap();
    assert_eq!(frame.split('\'').next().unwrap().matches('M').count(), 6);
    assert!(plot.contains(" !<") && !plot.contains(" ×<"));
}

#[test]
fn rows_that_cannot_be_made_say_why() {
    let make = |v: &[Value]| {
        if number(&v[1]) > 1.5 {
            Err(NoDesign("too wide, by far".to_owned()))
        } else {
            by_pressure(v)
        }
    };
    let two = [
        sweep(&[2.0, 8.0]),
        Sweep {
            key: "b".into(),
            unit: String::new(),
            shown: None,
            values: vec![Value::Number(1.0), Value::Number(2.0)],
        },
    ];
    let s = study(&two, (Share::WHOLE, &[]), &make, &options(), &|_| true).unwrap();
    assert_eq!(s.rows.iter().filter(|r| r.error.is_some()).count(), 2);
    assert!(s.to_csv().contains("\"too wide, by far\""));
    assert!(s.to_svg().contains("–"));
    assert!(study(&[], (Share::WHOLE, &[]), &make, &options(), &|_| true).is_err());
}
