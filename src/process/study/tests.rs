use super::*;
use crate::process::run::tests::coaster;

fn options() -> ProcessOptions {
    ProcessOptions {
        cells: 250,
        ..ProcessOptions::quick()
    }
}

fn by_pressure(values: &[f64]) -> Result<Design, NoDesign> {
    let mut d = coaster(3.0);
    d.machine.pressure = values[0];
    Ok(d)
}

fn sweep(values: &[f64]) -> Sweep {
    Sweep {
        key: "machine.pressure".into(),
        unit: "MPa".into(),
        shown: None,
        values: values.to_vec(),
    }
}

#[test]
fn more_pressure_fills_more() {
    let s = study(
        &[sweep(&[1.0, 4.0, 16.0])],
        &by_pressure,
        &options(),
        &|_, _| true,
    )
    .unwrap();
    assert!(!s.interrupted && s.rows.len() == 3);
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
    let s = study(&[sweep(&values)], &by_pressure, &options(), &|done, _| {
        done < 2
    })
    .unwrap();
    assert!(s.interrupted && !s.rows.is_empty() && s.rows.len() < values.len());
}

#[test]
fn rows_that_cannot_be_made_say_why() {
    let make = |v: &[f64]| {
        if v[1] > 1.5 {
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
            values: vec![1.0, 2.0],
        },
    ];
    let s = study(&two, &make, &options(), &|_, _| true).unwrap();
    assert_eq!(s.rows.iter().filter(|r| r.error.is_some()).count(), 2);
    assert!(s.to_csv().contains("\"too wide, by far\""));
    assert!(s.to_svg().contains("–"));
    assert!(study(&[], &make, &options(), &|_, _| true).is_err());
}
