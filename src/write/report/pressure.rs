//! Pressure at the sprue's mouth over time, all cases in one plot.

use crate::base::shown;
use crate::base::units::decimals;
use crate::process::report::FillCase;
use std::fmt::Write;

/// The plot's corner and size in the picture's units.
const LEFT: f64 = 46.0;
const TOP: f64 = 26.0;
const WIDTH: f64 = 340.0;
const HEIGHT: f64 = 216.0;

/// The figure; `limit` is the largest pressure at hand there, MPa. Empty without a curve.
pub(super) fn figure(cases: &[FillCase], limit: f64) -> String {
    let points = || cases.iter().flat_map(|c| &c.history);
    let longest = points().fold(0.0, |m: f64, h| m.max(h[0]));
    let peak = points().fold(0.0, |m: f64, h| m.max(h[1]));
    if !(longest > 0.0 && peak > 0.0) {
        return String::new();
    }
    // The limit belongs to the picture unless it would press the curves to the floor.
    let top = if limit < 4.0 * peak {
        limit.max(peak)
    } else {
        peak
    } * 1.06;
    let x = |t: f64| decimals(LEFT + WIDTH * t / longest, 1);
    let y = |p: f64| decimals(TOP + HEIGHT * (1.0 - p / top), 1);
    let unit = shown::Kind::Pressure.unit();
    let mut out = format!(
        "<figure class=\"plot\">\n<figcaption>Pressure at the sprue's mouth</figcaption>\n\
         <svg viewBox=\"0 0 405 330\" role=\"img\" aria-label=\"Pressure in {unit} over time in s\">\n",
    );
    let (right, floor) = (LEFT + WIDTH, TOP + HEIGHT);
    // Marks at round numbers of the unit that is written.
    let kind = shown::Kind::Pressure;
    let one = kind.value(1.0);
    for p in ticks(top * one, 5) {
        let at = y(p / one);
        let _ = writeln!(
            out,
            "<path class=\"grid\" d=\"M{LEFT} {at}H{right}\"/><text text-anchor=\"end\" x=\"40\" y=\"{at}\" dy=\"4.5\">{}</text>",
            decimals(p, 4)
        );
    }
    for t in ticks(longest, 5) {
        let at = x(t);
        let _ = writeln!(
            out,
            "<path class=\"axis\" d=\"M{at} {floor}v5\"/><text text-anchor=\"middle\" x=\"{at}\" y=\"260\">{}</text>",
            decimals(t, 4)
        );
    }
    let _ = writeln!(
        out,
        "<path class=\"axis\" d=\"M{LEFT} {TOP}V{floor}H{right}\"/><text x=\"{}\" y=\"280\" text-anchor=\"end\">time, s</text>\
         <text x=\"{}\" y=\"14\" text-anchor=\"end\">{unit}</text>",
        right,
        LEFT - 6.0
    );
    if limit <= top {
        let at = y(limit);
        let _ = writeln!(
            out,
            "<path class=\"limit\" d=\"M{LEFT} {at}H{right}\"/><text text-anchor=\"end\" x=\"{right}\" y=\"{at}\" dy=\"14\">limit {}</text>",
            shown::quantity(shown::Kind::Pressure, limit, 2)
        );
    }
    for (i, case) in cases.iter().enumerate() {
        let line: Vec<String> = case
            .history
            .iter()
            .map(|h| format!("{} {}", x(h[0]), y(h[1])))
            .collect();
        let class = format!("curve c{}", i % 3);
        if !line.is_empty() {
            let _ = writeln!(out, "<path class=\"{class}\" d=\"M{}\"/>", line.join("L"));
        }
        let from = LEFT + 115.0 * i as f64;
        let _ = writeln!(
            out,
            "<path class=\"{class}\" d=\"M{from} 305h34\"/><text x=\"{}\" y=\"310\">{}</text>",
            from + 40.0,
            case.name.word()
        );
    }
    out.push_str("</svg>\n</figure>\n");
    out
}

/// Round numbers from 0 to `end`, about `count` steps of 1, 2 or 5 × a power of ten.
pub(super) fn ticks(end: f64, count: usize) -> Vec<f64> {
    if !(end.is_finite() && end > 0.0) || count == 0 {
        return vec![0.0];
    }
    let rough = end / count as f64;
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .map(|m| m * power)
        .into_iter()
        .find(|s| *s >= rough * 0.999)
        .unwrap_or(10.0 * power);
    (0..=2 * count)
        .map(|k| k as f64 * step)
        .take_while(|t| *t <= end * 1.0001)
        .collect()
}
