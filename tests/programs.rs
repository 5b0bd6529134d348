//! Programs are proved from their own text: a text that was spoilt is caught.
//!
//! Whether a spoilt text matters is judged by distances alone: a place that one text cuts and the
//! other does not come within 0.02 mm of, in metal that the plate keeps or has to lose; or a fast
//! move down, or across, below the top of the stock. The solid, the sheet's motions and the fields
//! of the proof have no part in that but to say where metal stands.

use platewright::design::Plate;
use platewright::pipeline;
use platewright::shop::program::proof::{Text, wrong};
use platewright::shop::program::read::{Move, read};
use platewright::shop::program::{Lying, NEAR, Shape};
use platewright::shop::removal::{Field, Proof, simulate};
use platewright::sketch::Point;
use platewright::spec::templates;

/// Farther than this apart, mm, two texts differ.
const DIFFERENT: f64 = 0.02;
/// Way of telling the same.
const OTHERWISE: &str = "arcs = \"radius\"\ncycles = \"G81 to G89\"\nunits = \"inch\"\n";

struct Draw(u64);

impl Draw {
    fn below(&mut self, n: usize) -> usize {
        self.0 = (self.0.wrapping_mul(6_364_136_223_846_793_005))
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % n
    }
}

/// Whether a digit tells hundredths at least: what is finer does not matter.
fn tells(line: &str, at: usize) -> bool {
    let word = line[..at].rfind(|c: char| c.is_ascii_alphabetic());
    let point = line[word.unwrap_or(0)..at].find('.');
    point.is_none_or(|p| at - word.unwrap_or(0) - p <= 2)
}

/// A line with a digit changed, left out, or with its arc the other way round.
fn spoilt(text: &str, draw: &mut Draw) -> Option<String> {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let k = draw.below(lines.len());
    if lines[k].starts_with(['(', '%']) {
        return None;
    }
    match draw.below(3) {
        0 => {
            let digits: Vec<usize> = (lines[k].char_indices())
                .filter(|(i, c)| c.is_ascii_digit() && tells(&lines[k], *i))
                .map(|(i, _)| i)
                .collect();
            let i = digits[draw.below(digits.len())];
            let now = lines[k].as_bytes()[i] - b'0';
            let new = (now + 1 + draw.below(9) as u8) % 10;
            lines[k].replace_range(i..=i, &new.to_string());
        }
        1 => {
            lines.remove(k);
        }
        _ => {
            let line = &lines[k];
            lines[k] = match (line.strip_prefix("G2 "), line.strip_prefix("G3 ")) {
                (Some(rest), _) => format!("G3 {rest}"),
                (_, Some(rest)) => format!("G2 {rest}"),
                _ => return None,
            };
        }
    }
    Some(lines.join("\n") + "\n")
}

/// Where a tool is nearest to a place along a move: distance, height of its tip.
fn nearest(m: &Move, p: [f64; 2]) -> (f64, f64) {
    let v = [m.to[0] - m.from[0], m.to[1] - m.from[1]];
    let u = [p[0] - m.from[0], p[1] - m.from[1]];
    let long2 = v[0] * v[0] + v[1] * v[1];
    if long2 == 0.0 {
        return (u[0].hypot(u[1]), m.from[2].min(m.to[2]));
    }
    let t = ((u[0] * v[0] + u[1] * v[1]) / long2).clamp(0.0, 1.0);
    let off = (u[0] - t * v[0]).hypot(u[1] - t * v[1]);
    (off, m.from[2] + t * (m.to[2] - m.from[2]))
}

struct Judge<'a> {
    plate: &'a Plate,
    end: &'a Field,
    text: &'a Text,
    lying: Lying,
    top: f64,
}

impl Judge<'_> {
    fn shape(&self, tool: u32) -> Option<&Shape> {
        (self.text.tools.iter().find(|t| t.number == tool)).map(|t| &t.shape)
    }
    /// A place that moves of `a` cut and those of `b` do not come near; `kept`: in metal that the
    /// plate keeps.
    fn cuts_more(&self, a: &[Move], b: &[Move], kept: bool) -> bool {
        let only: Vec<&Move> = a.iter().filter(|m| !m.fast && !b.contains(m)).collect();
        for m in only {
            let Some(shape) = self.shape(m.tool) else {
                return true;
            };
            let long = (m.to[0] - m.from[0]).hypot(m.to[1] - m.from[1]);
            let n = (long / 0.25).ceil().max(1.0) as usize;
            let near: Vec<(&Move, &Shape)> = (b.iter())
                .filter(|o| !o.fast)
                .filter_map(|o| Some((o, self.shape(o.tool)?)))
                .filter(|(o, s)| {
                    let reach = s.radius() + shape.radius() + 0.1;
                    (0..2).all(|i| {
                        o.from[i].min(o.to[i]) - reach < m.from[i].max(m.to[i])
                            && o.from[i].max(o.to[i]) + reach > m.from[i].min(m.to[i])
                    })
                })
                .collect();
            for k in 0..=n {
                let t = k as f64 / n as f64;
                let at: Vec<f64> = (0..3)
                    .map(|i| m.from[i] + t * (m.to[i] - m.from[i]))
                    .collect();
                let tip = if long == 0.0 {
                    m.from[2].min(m.to[2])
                } else {
                    at[2]
                };
                for (share, turns) in [(0.0, 1), (0.5, 8), (1.0, 24)] {
                    for turn in 0..turns {
                        let rho = (share * shape.radius() - 0.001).max(0.0);
                        let a = f64::from(turn) * std::f64::consts::TAU / f64::from(turns);
                        let p = [at[0] + rho * a.cos(), at[1] + rho * a.sin()];
                        let z = tip + shape.height(rho).unwrap_or(0.0) + 0.001;
                        if z < self.top && self.metal(p, z, kept) && !reached(&near, p, z) {
                            return true;
                        }
                    }
                }
            }
        }
        false
    }
    /// Whether there is metal at a place: in the finished plate, or in what it is cut from.
    fn metal(&self, p: [f64; 2], z: f64, kept: bool) -> bool {
        let [x, y, z] = self.lying.mold([p[0], p[1], z]);
        if !kept {
            let b = self.plate.outline.bounds();
            let inside = x > b.min.x && x < b.max.x && y > b.min.y && y < b.max.y;
            return inside && z > self.plate.z_low && z < self.plate.z_high;
        }
        let k = self.end.grid.nearest(Point::new(x, y));
        let all = self.end.grid.around(k);
        all.fold(true, |so, k| {
            so && self.end.metal(k)
                && f64::from(self.end.high[k]) > z + DIFFERENT
                && f64::from(self.end.low[k]) < z - DIFFERENT
        })
    }
    fn matters(&self, before: &[Move], after: &[Move]) -> bool {
        let fast = |m: &&Move| m.fast && !before.contains(m);
        let level = |m: &Move| m.from[..2] == m.to[..2];
        let wild = |m: &Move| {
            m.from[2].min(m.to[2]) < self.top - DIFFERENT && !(level(m) && m.to[2] >= m.from[2])
        };
        after.iter().filter(fast).any(wild)
            || self.cuts_more(after, before, true)
            || self.cuts_more(before, after, false)
    }
}

/// Whether moves come within the limit of a place.
fn reached(moves: &[(&Move, &Shape)], p: [f64; 2], z: f64) -> bool {
    moves.iter().any(|(m, s)| {
        let (off, tip) = nearest(m, p);
        let height = s.height((off - DIFFERENT).max(0.0));
        height.is_some_and(|h| tip + h - DIFFERENT <= z)
    })
}

#[test]
fn spoilt_texts_are_caught_and_sound_ones_are_not() {
    let night = std::env::var("PLATEWRIGHT_NIGHTLY").is_ok();
    let by_day = [("adaptor", ""), ("tag", OTHERWISE)];
    let more = [("flange", ""), ("keyring", ""), ("cup", OTHERWISE)];
    // Texts spoilt of each plate, at most, and how many that matter are enough.
    let (each, enough) = if night { (300, 300) } else { (60, 4) };
    let mut draw = Draw(27);
    let (mut tried, mut matter, mut unseen) = (0, 0, Vec::new());
    for (name, options) in by_day.iter().chain(more.iter().filter(|_| night)) {
        let t = templates::get(name).expect("a starter");
        let text = t.text.replace("\nfill = ", "\n# fill = ");
        let text = match text.contains("\n[output]\n") {
            true => text.replace("\n[output]\n", "\n[output]\nfill = \"off\"\n"),
            false => format!("{text}\n[output]\nfill = \"off\"\n"),
        };
        let text = format!("{text}\n[[shop.machine]]\nkind = \"mill\"\n{options}");
        let job = pipeline::read(text.as_bytes(), &|n: &str| t.file(n)).expect("reads");
        let made = pipeline::make(&job, name, &|_| {}).expect("made");
        let c = &made.checked;
        assert!(!c.programs.is_empty(), "{name}");
        for (plate, sheet) in c.design.plates.iter().zip(&c.plan.plates) {
            let own: Vec<&Text> = c
                .programs
                .iter()
                .filter(|t| t.plate == plate.name)
                .collect();
            if own.is_empty() {
                continue;
            }
            let solid = c.solids.get(&plate.name).expect("a solid");
            let proof = Proof::of(plate, solid, c.solids.tolerance.chord);
            assert_eq!(
                wrong(&proof, plate, sheet, &own),
                Vec::<String>::new(),
                "{name}"
            );
            let end = simulate(plate, sheet).field;
            let so_far = matter;
            for k in 0..each {
                if matter == so_far + enough {
                    break;
                }
                let at = k % own.len();
                let Some(text) = (0..100).find_map(|_| spoilt(&own[at].text, &mut draw)) else {
                    continue;
                };
                tried += 1;
                let bad = Text {
                    text,
                    ..own[at].clone()
                };
                let before = read(&own[at].text, &own[at].limits).expect("sound");
                let judge = Judge {
                    plate,
                    end: &end,
                    text: own[at],
                    lying: Lying::of(plate, own[at].face),
                    top: own[at].limits.near - NEAR,
                };
                // What is not even read is caught.
                let Ok(after) = read(&bad.text, &bad.limits) else {
                    continue;
                };
                if !judge.matters(&before, &after) {
                    continue;
                }
                matter += 1;
                let mut texts = own.clone();
                texts[at] = &bad;
                if wrong(&proof, plate, sheet, &texts).is_empty() {
                    let line = (own[at].text.lines().zip(bad.text.lines())).find(|(a, b)| a != b);
                    unseen.push(format!("{name} {}: {line:?}", bad.name));
                }
            }
        }
    }
    println!(
        "{tried} texts spoilt, {matter} of them matter and are read, {} not seen",
        unseen.len()
    );
    assert!(matter >= 12, "{tried} {matter}");
    assert!(100 * unseen.len() <= matter, "{unseen:#?}");
}

#[test]
fn a_run_above_the_work_touches_nothing_and_is_the_programs_own() {
    let t = templates::get("adaptor").expect("a starter");
    let machine =
        "above = true\nlongest_run = \"2 min\"\ncycles = \"G81 to G89\"\nlength_offset = true";
    let text = format!("{}\n[[shop.machine]]\nkind = \"mill\"\n{machine}\n", t.text);
    let job = pipeline::read(text.as_bytes(), &|n: &str| t.file(n)).expect("reads");
    let made = pipeline::make(&job, "adaptor", &|_| {}).expect("made");
    let c = &made.checked;
    let (above, work): (Vec<&Text>, Vec<&Text>) = c.programs.iter().partition(|t| t.above > 0.0);
    assert!(!work.is_empty() && work.len() == above.len());
    // Divided between operations, each cut once, in order.
    assert!(work.len() > c.plan.plates[0].setups.len(), "{}", work.len());
    let numbers: Vec<usize> = work
        .iter()
        .flat_map(|t| &t.cuts)
        .map(|c| c.operation)
        .collect();
    assert!(numbers.is_sorted_by(|a, b| a < b), "{numbers:?}");
    for t in &above {
        let moves = read(&t.text, &t.limits).expect("reads");
        let top = t.limits.near - NEAR - t.above;
        assert!(moves.iter().all(|m| m.to[2] >= top + 5.0), "{}", t.name);
        assert!(!t.text.contains("M3\n") && !t.text.contains("M4\n"));
        let files: Vec<&str> = made.package.with_index().map(|f| f.0).collect();
        assert!(files.contains(&t.name.as_str()), "{}", t.name);
    }
    let plate = &c.design.plates[0];
    let solid = c.solids.get(&plate.name).expect("a solid");
    let proof = Proof::of(plate, solid, c.solids.tolerance.chord);
    let sound: Vec<&Text> = c.programs.iter().collect();
    let judged = |texts: &[&Text]| wrong(&proof, plate, &c.plan.plates[0], texts);
    assert_eq!(judged(&sound), Vec::<String>::new());
    // A depth, a place, a spindle that starts, a line left out: each is seen.
    let spoil: [&dyn Fn(&str) -> String; 4] = [
        &|t| changed(t, 'Z'),
        &|t| changed(t, 'X'),
        &|t| t.replacen(" M6\n", " M6\nS500 M3\n", 1),
        &|t| {
            let last = t.rfind("\nG").expect("a move");
            let end = t[last + 1..].find('\n').expect("a line") + last + 1;
            let before = t[..last]
                .rfind("\nX")
                .or(t[..last].rfind("\nG8"))
                .expect("a hole");
            let stop = t[before + 1..].find('\n').expect("a line") + before + 1;
            assert!(stop <= end);
            format!("{}{}", &t[..before], &t[stop..])
        },
    ];
    for (k, spoil) in spoil.iter().enumerate() {
        let bad = Text {
            text: spoil(&above[0].text),
            ..above[0].clone()
        };
        assert_ne!(bad.text, above[0].text, "{k}");
        let texts: Vec<&Text> = (sound.iter())
            .map(|t| if t.name == bad.name { &bad } else { *t })
            .collect();
        assert!(!judged(&texts).is_empty(), "{k}");
    }
}

/// The last word of an axis with another digit in front.
fn changed(text: &str, axis: char) -> String {
    let at = text.rfind(&format!(" {axis}")).expect("a word") + 2;
    let digit = text.as_bytes()[at];
    let other = if digit == b'1' { '2' } else { '1' };
    format!("{}{other}{}", &text[..at], &text[at + 1..])
}
