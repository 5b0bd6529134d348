//! How to find out which thread a nozzle has: gauge, caliper, pitch; and the table to look it up.
//!
//! The sizes are those of the built-in tables; the profile is drawn from them.

use crate::base::System;
use crate::base::shown;
use crate::base::units::decimals;
use crate::data::pipe::{PipeFamily, PipeForm, PipeThread, sizes};
use crate::write::markup::escape;

const STEPS: &str = "<ol>\n\
<li><b>Clean it.</b> Brush plastic and tape out of the thread while it is cold.</li>\n\
<li><b>Straight or tapered?</b> Measure over the crests with a caliper at the end and again a few turns back. A pipe thread \
that is tapered grows by {GROWS} of length; a straight one does not. Straight outside threads on fittings are G; \
tapered ones are R (where inch pipe to ISO 7 is sold) or NPT (where pipe to ASME B1.20.1 is sold).</li>\n\
<li><b>Pitch.</b> Hold a thread gauge with inch pitches against it and look at light behind it. Without a gauge, lay a rule \
along the crests and count how many fall on {AN_INCH}; or measure ten pitches and divide by ten.</li>\n\
<li><b>Angle.</b> 55° with rounded crests is G and R, 60° with flat crests is NPT. The gauge shows it: the wrong leaf rocks.</li>\n\
<li><b>Size.</b> Look the diameter up below. The size is a name, not a measure: a half-inch pipe thread is {HALF} over its crests.</li>\n\
<li><b>Try it.</b> Screw a fitting of that name on by hand. It goes on for three turns or more without force; one that binds after one is another thread.</li>\n\
</ol>\n\
<p>G 1/2 and NPT 1/2 both have 14 threads to the inch, and so have G 3/4 and NPT 3/4: there only the angle and the taper tell. Put together they bind and leak, \
and hot melt finds the leak. <code>platewright mate \"G 1/2\" \"1/2 NPT\"</code> says what two threads do with each other.</p>\n";

/// The steps, with sizes in the units of the page.
fn steps() -> String {
    let (grows, inch, half) = match System::current() {
        System::Metric => ("1 mm in 16 mm", "25.4 mm", "21 mm"),
        System::Inch => ("1/16 in in an inch", "an inch", "0.82 in"),
    };
    STEPS
        .replace("{GROWS}", grows)
        .replace("{AN_INCH}", inch)
        .replace("{HALF}", half)
}

fn form(family: PipeFamily, size: &str) -> Option<PipeForm> {
    let size = size.to_owned();
    PipeThread { family, size }.form()
}

pub(super) fn section() -> String {
    let mut rows = String::new();
    for size in sizes() {
        let cells = |family: PipeFamily| match form(family, size) {
            Some(f) => format!(
                "<td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td>",
                shown::bare_length(f.major, 3),
                decimals(f.tpi, 1),
                shown::bare_length(f.pitch, 3)
            ),
            None => "<td>–</td><td>–</td><td>–</td>".into(),
        };
        rows.push_str(&format!(
            "<tr><th scope=\"row\">{}</th>{}{}</tr>\n",
            escape(size),
            cells(PipeFamily::G),
            cells(PipeFamily::Npt)
        ));
    }
    let sources = [PipeFamily::G, PipeFamily::Rc, PipeFamily::Npt];
    let sources: Vec<String> = sources
        .into_iter()
        .filter_map(|f| Some(format!("{}: {}", f.letters(), form(f, "1/2")?.source)))
        .collect();
    format!(
        "{}{}<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"Sizes of pipe threads\"><table>\n<thead>\
         <tr><th scope=\"col\" rowspan=\"2\">size</th><th scope=\"colgroup\" colspan=\"3\">G, and R at its gauge plane: 55°</th><th scope=\"colgroup\" colspan=\"3\">NPT at its hand-tight plane: 60°</th></tr>\n\
         <tr><th scope=\"col\">over the crests, {unit}</th><th scope=\"col\">to the inch</th><th scope=\"col\">pitch, {unit}</th>\
         <th scope=\"col\">over the crests, {unit}</th><th scope=\"col\">to the inch</th><th scope=\"col\">pitch, {unit}</th></tr></thead>\n<tbody>{rows}</tbody></table></div>\n\
         <p class=\"soft\">Sources of the row 1/2, the others as <code>platewright tables</code> has them: {}.</p>\n",
        steps(),
        profiles(),
        escape(&sources.join("; ")),
        unit = shown::Kind::Length.unit(),
    )
}

/// Turns that are drawn.
const TURNS: usize = 5;
/// How much larger than true.
const SCALE: f64 = 20.0;

/// Both profiles of 1/2 side by side, from pitch and diameters.
fn profiles() -> String {
    let mut body = String::new();
    let mut top = 20.0;
    let wide = 220.0;
    for (family, title) in [
        (PipeFamily::G, "G 1/2: 55°, rounded"),
        (PipeFamily::Npt, "1/2 NPT: 60°, flat, tapered 1 in 16"),
    ] {
        let Some(f) = form(family, "1/2") else {
            continue;
        };
        let height = (f.major - f.minor) / 2.0 * SCALE;
        let pitch = f.pitch * SCALE;
        let fall = |x: f64| x * f.taper / 2.0;
        let slope = family.row().profile.half_angle_deg().to_radians().tan();
        // Half of a flat at crest and root: what flanks of this angle leave of a pitch.
        let flat = (pitch / 2.0 - height * slope) / 2.0;
        // Rounded ones reach as far down the flanks as the sharp corner would stand above.
        let round = if family.tapered() { 0.0 } else { flat / slope };
        let mut d = String::new();
        for turn in 0..TURNS {
            let left = 10.0 + pitch * turn as f64;
            let mut to = |letter: &str, dx: f64, dy: f64| {
                let x = left + dx;
                let y = top + dy + fall(x);
                d.push_str(&format!("{letter}{} {}", decimals(x, 2), decimals(y, 2)));
            };
            let (near, far) = (flat + round * slope, flat - round * slope);
            let middle = pitch / 2.0;
            if turn == 0 {
                to("M", near, height - round);
            }
            to("L", middle - near, round);
            if round > 0.0 {
                to("Q", middle, -round);
                to(" ", middle + near, round);
            } else {
                to("L", middle + far, 0.0);
            }
            to("L", pitch - near, height - round);
            if turn + 1 < TURNS {
                if round > 0.0 {
                    to("Q", pitch, height + round);
                    to(" ", pitch + near, height - round);
                } else {
                    to("L", pitch + far, height);
                }
            }
        }
        body.push_str(&format!(
            "<text x=\"10\" y=\"{}\">{title}, pitch {}</text>\n<path d=\"{d}\" fill=\"none\" stroke=\"#1d2327\" stroke-width=\"0.8\"/>\n",
            decimals(top - 7.0, 1),
            shown::length(f.pitch, 3)
        ));
        top += height + 26.0;
    }
    format!(
        "<figure class=\"picture\">\n<svg viewBox=\"0 0 {wide} {h}\" width=\"720\" role=\"img\" aria-label=\"Profiles of G 1/2 and 1/2 NPT\" font-size=\"7\" font-family=\"sans-serif\" fill=\"#1d2327\">\n{body}</svg>\n\
         <figcaption>The two profiles, {SCALE} times as large as they are</figcaption>\n</figure>\n",
        h = decimals(top - 10.0, 1)
    )
}
