//! The fill: the range of cases, what is in hand, the pictures.

use super::table::{Numbers, Table};
use super::{Report, fill_map, pressure};
use crate::base::shown::{self, Kind};
use crate::base::units::decimals;
use crate::fill::Outcome;
use crate::process::report::{FillCase, FillReport, Grade};
use crate::process::supply::Step;
use crate::write::budget;
use crate::write::drawing::svg;

/// The section; empty for an adaptor.
pub(super) fn section(report: &Report<'_>) -> String {
    if report.design.part.is_none() {
        return String::new();
    }
    let mut out = String::from("<h2>Does it fill</h2>\n");
    let Some(fill) = &report.process.fill else {
        out.push_str("<p>The fill was not computed; see the limits at the end of this page.</p>\n");
        return out;
    };
    out.push_str(
        "<p>Three runs span what is not known: a grade that flows easily and loses little heat to the wall (easy), \
         the typical one, and a grade that flows hardly in good contact with the wall (hard).</p>\n",
    );
    out.push_str(&cases(&fill.cases));
    out.push_str(&budget_figure(&fill.cases));
    out.push_str(
        "<p>Maps: typical case, first cavity seen from the nozzle.</p>\n<div class=\"pair\">\n",
    );
    out.push_str(&fill_map::arrival(&fill.map));
    out.push_str(&fill_map::pressure(&fill.map));
    out.push_str(&fill_map::temperature(&fill.map));
    out.push_str(&pressure::figure(&fill.cases, at_hand(&fill.cases)));
    out.push_str("</div>\n");
    out.push_str(&margin(fill));
    out
}

/// What the typical grade finds at the sprue's mouth, MPa.
fn at_hand(all: &[FillCase]) -> f64 {
    all.iter()
        .find(|c| c.name == Grade::Typical)
        .map_or(f64::INFINITY, |c| c.at_hand)
}

/// How a run ended, in words.
fn outcome(o: Outcome) -> &'static str {
    match o {
        Outcome::Full => "full",
        Outcome::Short => "short: frozen or at a stand",
        Outcome::ShotUsedUp => "short: barrel empty",
        Outcome::AirTrapped => "full but for trapped air",
        Outcome::TimeLimit => "still creeping at the time limit",
        Outcome::Interrupted => "interrupted",
    }
}

/// A share as per cent; what is too small for the places is said to be below them.
fn share(value: f64, places: usize) -> String {
    let text = decimals(value.abs() * 100.0, places);
    if text == "0" && value != 0.0 {
        format!("< {}", decimals(0.1_f64.powi(places as i32), places))
    } else {
        text
    }
}

/// One row a quantity, one column a case.
fn cases(all: &[FillCase]) -> String {
    let mut columns = vec!["quantity"];
    columns.extend(all.iter().map(|c| c.name.word()));
    let mut t = Table::new("Fill, case by case", &columns, 1);
    let mut row = |label: &str, value: &dyn Fn(&FillCase) -> String| {
        let values: Vec<String> = all.iter().map(value).collect();
        let mut cells = vec![label];
        cells.extend(values.iter().map(String::as_str));
        t.row(&cells);
    };
    row("how it ends", &|c| outcome(c.outcome).into());
    row("filled, %", &|c| decimals(c.filled * 100.0, 1));
    row("time, s", &|c| decimals(c.time, 2));
    row(
        &format!(
            "largest pressure at the sprue's mouth, {}",
            Kind::Pressure.unit()
        ),
        &|c| shown::bare(Kind::Pressure, c.pressure, 2),
    );
    row(
        &format!("pressure at hand there, {}", Kind::Pressure.unit()),
        &|c| shown::bare(Kind::Pressure, c.at_hand, 2),
    );
    row(
        &format!("hand force for it, {}", Kind::Force.unit()),
        &|c| shown::bare(Kind::Force, c.hand_force, 0),
    );
    row("pressure limit met at, s", &|c| {
        c.limited_at.map_or("never".into(), |t| decimals(t, 2))
    });
    row(
        &format!("largest parting force, {}", Kind::Force.unit()),
        &|c| shown::bare(Kind::Force, c.force, 0),
    );
    row("largest frozen share of the half gap, %", &|c| {
        decimals(c.frozen * 100.0, 0)
    });
    row(
        &format!("coldest melt at the end, {}", Kind::Temperature.unit()),
        &|c| shown::bare(Kind::Temperature, c.coldest, 0),
    );
    row(
        &format!(
            "weld lines, number and length in all, {}",
            Kind::Length.unit()
        ),
        &|c| {
            let length: f64 = c.welds.iter().map(|w| w.length).sum();
            match c.welds.len() {
                0 => "none".into(),
                n => format!("{n}; {}", shown::bare_length(length, 0)),
            }
        },
    );
    row("places with trapped air", &|c| match c.traps.len() {
        0 => "none".into(),
        n => n.to_string(),
    });
    row("melt flow rate, g/10 min", &|c| decimals(c.melt_flow, 2));
    row("viscosity against the typical, at 100 1/s", &|c| {
        decimals(c.viscosity, 2)
    });
    row("contact melt to wall, W/(m² K)", &|c| {
        c.contact.map_or("perfect".into(), |h| decimals(h, 0))
    });
    row("volume not accounted for, %", &|c| share(c.mass_error, 4));
    row("heat not accounted for, %", &|c| share(c.energy_error, 3));
    t.end()
}

/// Where the plunger's pressure goes, case by case.
fn budget_figure(all: &[FillCase]) -> String {
    let rows: Vec<(&str, &[Step])> = all
        .iter()
        .map(|c| (c.name.word(), c.budget.as_slice()))
        .collect();
    let svg = svg::element(&budget::bars(&rows), "budget");
    format!(
        "<figure class=\"sheet\">\n<figcaption>Where the plunger's pressure goes: flakes, melt in the barrel, entrance and bore of the nozzle, sprue to cavity, {}</figcaption>\n{svg}</figure>\n",
        Kind::Pressure.unit()
    )
}

fn margin(fill: &FillReport) -> String {
    let mut lines = Numbers::default();
    if let Some(m) = &fill.margin {
        lines.line(
            "least pressure at the plunger that fills",
            m.least_pressure
                .zip(m.least_force)
                .map_or("not found".into(), |(p, n)| {
                    format!(
                        "{} ({} at the lever)",
                        shown::quantity(Kind::Pressure, p, 2),
                        shown::quantity(Kind::Force, n, 0)
                    )
                }),
            if m.least_pressure.is_some() {
                "typical case, from coarser runs"
            } else {
                "eight times the present pressure is not enough (typical case, coarser runs)"
            },
        );
        if let Some(r) = m.pressure_ratio {
            lines.line("pressure at hand over the least", decimals(r, 1), "");
        }
        if let Some(t) = m.temperature {
            let value = shown::quantity(Kind::Temperature, t, 0);
            lines.line("melt temperature that would fill", value, "");
        }
        if let Some(f) = m.thickness {
            let value = format!("× {}", decimals(f, 2));
            lines.line("thickness that would fill", value, "");
        }
    }
    if fill.unreachable > 0.0 {
        let value = format!("{} %", decimals(fill.unreachable * 100.0, 1));
        lines.line("share of the cavity the melt cannot reach", value, "");
    }
    let cells = format!("{} of {}", fill.cells, shown::length(fill.pitch, 2));
    lines.line("cells of the computation", cells, "");
    lines.end("In hand, and how it was computed")
}
