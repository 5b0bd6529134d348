//! Pictures of the fill seen from the nozzle: arrival, pressure, temperature.
//!
//! Input: a value of each place of the grid. Output: SVG figures with a colour bar and its
//! unit, one path a band of values; on the picture of arrival a slider shows the melt front.

use super::pressure::ticks;
use crate::base::shown;
use crate::base::units::decimals;
use crate::process::report::FillMap;
use std::fmt::Write;

/// Bands of equal width.
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

/// What a place shows.
#[derive(Clone, Copy, PartialEq)]
enum Spot {
    Band(usize),
    NotFilled,
}

/// One picture.
struct Picture<'a> {
    /// Makes the ids of the page unique.
    id: &'a str,
    caption: &'a str,
    /// Quantity and unit, over the colour bar.
    unit: &'a str,
    /// Lowest and highest value of the bar.
    range: [f64; 2],
    spots: Vec<Option<Spot>>,
}

/// Arrival times; empty when nothing was filled.
pub(super) fn arrival(map: &FillMap) -> String {
    let last = map.time.iter().flatten().fold(0.0_f32, |m, t| m.max(*t));
    if last <= 0.0 {
        return String::new();
    }
    let range = [0.0, f64::from(last)];
    let spot = |t: &f32| match *t {
        t if t < 0.0 => Spot::NotFilled,
        t => Spot::Band(band(f64::from(t), range)),
    };
    let slider = format!(
        "<p class=\"control\" hidden><label>Melt front at <output></output><input type=\"range\" min=\"1\" max=\"{BANDS}\" value=\"{BANDS}\" data-last=\"{}\"></label></p>\n",
        decimals(range[1], 4)
    );
    Picture {
        id: "front",
        caption: "Arrival of the melt",
        unit: "time, s",
        range,
        spots: map.time.iter().map(|t| t.as_ref().map(spot)).collect(),
    }
    .figure(map, &slider)
}

/// Pressure when nearly all is filled; empty when nothing was filled.
pub(super) fn pressure(map: &FillMap) -> String {
    let most = map.pressure.iter().flatten();
    let most = f64::from(most.fold(0.0_f32, |m, p| m.max(*p)));
    let caption = "Pressure when 99 % are filled";
    let kind = shown::Kind::Pressure;
    values(map, &map.pressure, "pressures", caption, kind, [0.0, most])
}

/// Temperature at the end of the fill; empty when nothing was filled.
pub(super) fn temperature(map: &FillMap) -> String {
    let all = || map.temperature.iter().flatten().map(|t| f64::from(*t));
    let (low, high) = (
        all().fold(f64::INFINITY, f64::min).floor(),
        all().fold(f64::NEG_INFINITY, f64::max).ceil(),
    );
    let caption = "Temperature of the melt at the end, mean over the thickness";
    let kind = shown::Kind::Temperature;
    values(map, &map.temperature, "heat", caption, kind, [low, high])
}

fn values(
    map: &FillMap,
    of: &[Option<f32>],
    id: &str,
    caption: &str,
    kind: shown::Kind,
    range: [f64; 2],
) -> String {
    let range = range.map(|v| kind.value(v));
    let width = range[1] - range[0];
    if !(width.is_finite() && width > 0.0) {
        return String::new();
    }
    let spots = of.iter().zip(&map.time).map(|(value, time)| {
        time.map(|_| {
            value.map_or(Spot::NotFilled, |v| {
                Spot::Band(band(kind.value(v.into()), range))
            })
        })
    });
    Picture {
        id,
        caption,
        unit: kind.unit(),
        range,
        spots: spots.collect(),
    }
    .figure(map, "")
}

fn band(value: f64, [low, high]: [f64; 2]) -> usize {
    (((value - low) / (high - low) * BANDS as f64) as usize).min(BANDS - 1)
}

impl Picture<'_> {
    /// The figure; empty when the sizes do not belong together.
    fn figure(&self, map: &FillMap, below: &str) -> String {
        let [nx, ny] = map.size;
        if nx == 0 || ny == 0 || self.spots.len() != nx * ny {
            return String::new();
        }
        let mut paths = vec![String::new(); BANDS + 1];
        for (j, row) in self.spots.chunks(nx).enumerate() {
            let mut i = 0;
            for run in row.chunk_by(|a, b| a == b) {
                if let Some(spot) = run[0] {
                    let b = match spot {
                        Spot::Band(b) => b,
                        Spot::NotFilled => BANDS,
                    };
                    // Rows are counted from below, pictures from above.
                    let (y, n) = (ny - 1 - j, run.len());
                    let _ = write!(paths[b], "M{i} {y}h{n}v1h-{n}z");
                }
                i += run.len();
            }
        }
        let scale = SIDE / nx.max(ny) as f64;
        let (width, height) = (nx as f64 * scale, (ny as f64 * scale).max(200.0));
        let [low, high] = self.range;
        let mut out = format!(
            "<figure class=\"plot\" id=\"{0}\">\n<figcaption>{1}</figcaption>\n\
             <svg viewBox=\"0 0 {2} {3}\" role=\"img\" aria-label=\"{1}: map of {4}, {5} to {6}\">\n\
             <defs><pattern id=\"{0}-none\" width=\"3\" height=\"3\" patternUnits=\"userSpaceOnUse\">\
             <rect width=\"3\" height=\"3\" fill=\"#fff\"/><path d=\"M0 3L3 0\" stroke=\"#a3161c\" stroke-width=\"1\"/></pattern></defs>\n\
             <g transform=\"scale({7})\" shape-rendering=\"crispEdges\">\n",
            self.id,
            self.caption,
            decimals(width + 95.0, 1),
            decimals(height + 40.0, 1),
            self.unit,
            decimals(low, 2),
            decimals(high, 2),
            decimals(scale, 4)
        );
        for (b, d) in paths.iter().enumerate().filter(|(_, d)| !d.is_empty()) {
            if b == BANDS {
                let _ = writeln!(out, "<path fill=\"url(#{}-none)\" d=\"{d}\"/>", self.id);
            } else {
                let from = decimals(low + (high - low) * b as f64 / BANDS as f64, 3);
                let colour = colour(b);
                let _ = writeln!(
                    out,
                    "<path class=\"band\" data-from=\"{from}\" fill=\"{colour}\" d=\"{d}\"/>"
                );
            }
        }
        out.push_str("</g>\n");
        out.push_str(&self.bar(width + 18.0));
        if !paths[BANDS].is_empty() {
            let _ = writeln!(
                out,
                "<rect x=\"{0}\" y=\"190\" width=\"16\" height=\"16\" fill=\"url(#{2}-none)\"/><text x=\"{1}\" y=\"203\">not filled</text>",
                decimals(width + 18.0, 1),
                decimals(width + 40.0, 1),
                self.id
            );
        }
        out.push_str(&ruler(width, height, map.pitch / scale));
        let _ = writeln!(out, "</svg>\n{below}</figure>");
        out
    }

    /// Colour bar: low below, high above.
    fn bar(&self, x: f64) -> String {
        let [low, high] = self.range;
        let (top, length) = (24.0, 150.0);
        let step = length / BANDS as f64;
        let mut out = format!(
            "<text x=\"{}\" y=\"14\">{}</text>\n",
            decimals(x, 1),
            self.unit
        );
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
        for t in marks(low, high) {
            let y = top + length * (1.0 - (t - low) / (high - low));
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
}

/// Round numbers from `low` to `high`, about four.
fn marks(low: f64, high: f64) -> Vec<f64> {
    let step = ticks(high - low, 4).get(1).copied().unwrap_or(high - low);
    let first = (low / step).ceil();
    (0..=8)
        .map(|k| (first + f64::from(k)) * step)
        .take_while(|t| *t <= high + 1e-4 * step)
        .collect()
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

/// A length to measure by; `mm` is the size of one unit of the picture.
fn ruler(width: f64, height: f64, mm: f64) -> String {
    let length = shown::Kind::Length;
    let mm = length.value(mm);
    let step = ticks(width * mm, 4).get(1).copied().unwrap_or(1.0);
    format!(
        "<path class=\"axis\" d=\"M1 {0}v6h{1}v-6\"/><text x=\"{2}\" y=\"{3}\">{4} {5}</text>\n",
        decimals(height + 12.0, 1),
        decimals(step / mm, 2),
        decimals(step / mm + 8.0, 1),
        decimals(height + 20.0, 1),
        decimals(step, 4),
        length.unit()
    )
}
