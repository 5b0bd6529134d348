//! The picture of arrival times, seen from the nozzle.
//!
//! Input: the time of each place of the grid. Output: an SVG figure with a colour bar in
//! seconds, one path a band of time, so that a slider can show the melt front.

use super::pressure::ticks;
use crate::base::units::decimals;
use crate::process::report::FillMap;
use std::fmt::Write;

/// Bands of equal time.
const BANDS: usize = 12;
/// Largest side of the map in the picture's units.
const SIDE: f64 = 310.0;
/// Dark to light without a step back, so that it reads in grey and to every eye.
const STOPS: [[f64; 3]; 4] = [
    [38.0, 36.0, 84.0],
    [32.0, 112.0, 132.0],
    [122.0, 176.0, 112.0],
    [248.0, 228.0, 150.0],
];

/// The figure; empty when nothing was filled.
pub(super) fn figure(map: &FillMap) -> String {
    let [nx, ny] = map.size;
    let last = map.time.iter().flatten().fold(0.0_f32, |m, t| m.max(*t));
    if nx == 0 || ny == 0 || map.time.len() != nx * ny || last <= 0.0 {
        return String::new();
    }
    let last = f64::from(last);
    let band = |t: f32| match t {
        t if t < 0.0 => BANDS,
        t => ((f64::from(t) / last * BANDS as f64) as usize).min(BANDS - 1),
    };
    let mut paths = vec![String::new(); BANDS + 1];
    for (j, row) in map.time.chunks(nx).enumerate() {
        let mut i = 0;
        while i < nx {
            let Some(t) = row[i] else {
                i += 1;
                continue;
            };
            let b = band(t);
            let run = row[i..]
                .iter()
                .take_while(|u| u.is_some_and(|u| band(u) == b))
                .count();
            // Rows are counted from below, pictures from above.
            let _ = write!(paths[b], "M{i} {}h{run}v1h-{run}z", ny - 1 - j);
            i += run;
        }
    }
    let scale = SIDE / nx.max(ny) as f64;
    let (width, height) = (nx as f64 * scale, (ny as f64 * scale).max(200.0));
    let mut out = format!(
        "<figure class=\"plot\" id=\"front\">\n<figcaption>Arrival of the melt, typical case, first cavity seen from the nozzle</figcaption>\n\
         <svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Map of arrival times from 0 to {} s\">\n\
         <defs><pattern id=\"unfilled\" width=\"3\" height=\"3\" patternUnits=\"userSpaceOnUse\">\
         <rect width=\"3\" height=\"3\" fill=\"#fff\"/><path d=\"M0 3L3 0\" stroke=\"#a3161c\" stroke-width=\"1\"/></pattern></defs>\n\
         <g transform=\"scale({})\" shape-rendering=\"crispEdges\">\n",
        decimals(width + 95.0, 1),
        decimals(height + 40.0, 1),
        decimals(last, 2),
        decimals(scale, 4)
    );
    for (b, d) in paths.iter().enumerate().filter(|(_, d)| !d.is_empty()) {
        if b == BANDS {
            let _ = writeln!(out, "<path fill=\"url(#unfilled)\" d=\"{d}\"/>");
        } else {
            let from = decimals(last * b as f64 / BANDS as f64, 3);
            let colour = colour(b);
            let _ = writeln!(
                out,
                "<path class=\"band\" data-from=\"{from}\" fill=\"{colour}\" d=\"{d}\"/>"
            );
        }
    }
    out.push_str("</g>\n");
    out.push_str(&bar(width + 18.0, last));
    if !paths[BANDS].is_empty() {
        let _ = writeln!(
            out,
            "<rect x=\"{0}\" y=\"190\" width=\"16\" height=\"16\" fill=\"url(#unfilled)\"/><text x=\"{1}\" y=\"203\">not filled</text>",
            decimals(width + 18.0, 1),
            decimals(width + 40.0, 1)
        );
    }
    out.push_str(&ruler(width, height, map.pitch / scale));
    let _ = writeln!(
        out,
        "</svg>\n<p class=\"control\" hidden><label>Melt front at <output></output><input type=\"range\" min=\"1\" max=\"{BANDS}\" value=\"{BANDS}\" data-last=\"{}\"></label></p>\n</figure>",
        decimals(last, 4)
    );
    out
}

/// Colour of a band.
fn colour(band: usize) -> String {
    let at = band as f64 / (BANDS - 1) as f64 * (STOPS.len() - 1) as f64;
    let k = (at as usize).min(STOPS.len() - 2);
    let f = at - k as f64;
    let [r, g, b] =
        [0, 1, 2].map(|c| (STOPS[k][c] * (1.0 - f) + STOPS[k + 1][c] * f).round() as u8);
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// Colour bar: early below, late above, in seconds.
fn bar(x: f64, last: f64) -> String {
    let (top, length) = (24.0, 150.0);
    let step = length / BANDS as f64;
    let mut out = format!("<text x=\"{}\" y=\"14\">time, s</text>\n", decimals(x, 1));
    for b in 0..BANDS {
        let _ = writeln!(
            out,
            "<rect x=\"{}\" y=\"{}\" width=\"16\" height=\"{}\" fill=\"{}\"/>",
            decimals(x, 1),
            decimals(top + length - (b + 1) as f64 * step, 2),
            decimals(step + 0.3, 2),
            colour(b)
        );
    }
    for t in ticks(last, 4) {
        let y = top + length * (1.0 - t / last);
        let _ = writeln!(
            out,
            "<path class=\"axis\" d=\"M{} {}h4\"/><text x=\"{}\" y=\"{}\">{}</text>",
            decimals(x + 16.0, 1),
            decimals(y, 1),
            decimals(x + 23.0, 1),
            decimals(y + 4.5, 1),
            decimals(t, 4)
        );
    }
    out
}

/// A length to measure by; `mm` is the size of one unit of the picture.
fn ruler(width: f64, height: f64, mm: f64) -> String {
    let step = ticks(width * mm, 4).get(1).copied().unwrap_or(1.0);
    format!(
        "<path class=\"axis\" d=\"M1 {0}v6h{1}v-6\"/><text x=\"{2}\" y=\"{3}\">{4} mm</text>\n",
        decimals(height + 12.0, 1),
        decimals(step / mm, 2),
        decimals(step / mm + 8.0, 1),
        decimals(height + 20.0, 1),
        decimals(step, 4)
    )
}
