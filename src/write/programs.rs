//! Programs of a numerically controlled mill: words of ISO 6983-1.
//!
//! Input: the paths of a set-up, how the machine wants to be told. Output: text. What controls read
//! differently is the user's choice; no control is named. Proves nothing: `shop/program` reads the
//! text back.

use crate::base::System;
use crate::design::Design;
use crate::shop::program::proof::Text;
use crate::shop::program::read::Limits;
use crate::shop::program::{Cut, Go, Mill, NEAR, Paths, Stroke, Tool};
use crate::spec::job::{Arcs, Cycles, ToolChange, UnitWords, Units};

/// Folder of the package.
pub const FOLDER: &str = "programs";
/// Longest line of a comment.
const WIDE: usize = 68;
/// So far above the last depth a drill that comes back feeds again, mm.
const AGAIN: f64 = 0.5;

/// How lengths are told.
#[derive(Debug, Clone, Copy)]
struct Digits {
    scale: f64,
    places: usize,
}

impl Digits {
    /// As it stands in the program, in its units.
    fn round(self, mm: f64) -> f64 {
        let p = 10f64.powi(self.places as i32);
        (mm / self.scale * p).round() / p
    }
    /// A height as it stands in the program: below zero the digit below, so that no film stays
    /// between what is cut from either face.
    fn height(self, mm: f64) -> f64 {
        let p = 10f64.powi(self.places as i32);
        match mm < 0.0 {
            true => (mm / self.scale * p + 1e-6).floor() / p,
            false => self.round(mm),
        }
    }
    fn text(self, units: f64) -> String {
        let text = format!("{units:.*}", self.places);
        let text = text.trim_end_matches('0').trim_end_matches('.');
        match text {
            "-0" | "" => "0".into(),
            t => t.into(),
        }
    }
    fn length(self, mm: f64) -> String {
        self.text(self.round(mm))
    }
}

/// A program that is being written.
struct Writer<'a> {
    mill: &'a Mill<'a>,
    digits: Digits,
    lines: Vec<String>,
    /// Where the tool is, in the program's units; Z first known.
    at: [Option<f64>; 3],
    feed: Option<String>,
    clear: f64,
    near: f64,
    /// So much higher than the work, mm; 0: it cuts.
    above: f64,
}

/// What the file says of one choice, or the usual one.
fn chosen<T: Copy + Default>(given: &crate::base::Opt<T>) -> T {
    given.as_ref().map_or_else(T::default, |g| g.value)
}

/// Text for a comment: plain characters, no brackets.
fn plain(text: &str) -> String {
    let one = |c: char| match c {
        'ø' | 'Ø' => "D".into(),
        '×' => "x".into(),
        '–' | '—' | '−' => "-".into(),
        '°' => " deg".into(),
        '(' | '[' | '{' => "- ".into(),
        ')' | ']' | '}' => "".into(),
        // For some controls it begins a comment of its own, also within brackets.
        ';' => ",".into(),
        '≤' => "at most".into(),
        '%' => "percent".into(),
        c if c.is_ascii_graphic() || c == ' ' => c.to_string(),
        _ => "?".into(),
    };
    text.chars().map(one).collect()
}

impl Writer<'_> {
    fn say(&mut self, text: &str) {
        let mut line = String::new();
        for word in plain(text).split_whitespace() {
            if !line.is_empty() && line.len() + 1 + word.len() > WIDE {
                self.lines.push(format!("({line})"));
                line.clear();
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        self.lines.push(format!("({line})"));
    }
    fn word(&mut self, line: impl Into<String>) {
        self.lines.push(line.into());
    }
    /// Words of the axes that change.
    fn axes(&mut self, to: [Option<f64>; 3]) -> String {
        let mut out = String::new();
        for (i, c) in ['X', 'Y', 'Z'].into_iter().enumerate() {
            let digits = |v| match i {
                2 => self.digits.height(v + self.above),
                _ => self.digits.round(v),
            };
            let Some(v) = to[i].map(digits) else {
                continue;
            };
            if self.at[i] != Some(v) {
                self.at[i] = Some(v);
                out.push_str(&format!(" {c}{}", self.digits.text(v)));
            }
        }
        out
    }
    fn fast(&mut self, to: [Option<f64>; 3]) {
        let axes = self.axes(to);
        if !axes.is_empty() {
            self.word(format!("G0{axes}"));
        }
    }
    fn feed_word(&mut self, feed: f64) -> String {
        let feed = match self.digits.scale == 1.0 {
            true => format!("{feed:.0}"),
            false => format!("{:.2}", feed / self.digits.scale),
        };
        if self.feed.as_ref() == Some(&feed) {
            return String::new();
        }
        self.feed = Some(feed.clone());
        format!(" F{feed}")
    }
    fn line(&mut self, to: [Option<f64>; 3], feed: f64) {
        let axes = self.axes(to);
        if !axes.is_empty() {
            let feed = self.feed_word(feed);
            self.word(format!("G1{axes}{feed}"));
        }
    }
    fn arc(&mut self, to: [f64; 2], centre: [f64; 2], ccw: bool, feed: f64) {
        let d = self.digits;
        let [Some(x), Some(y), _] = self.at else {
            return;
        };
        let (from, end) = ([x, y], to.map(|v| d.round(v)));
        if from == end {
            return;
        }
        // As far from both ends as they stand in the text.
        let half = [0.5 * (end[0] - from[0]), 0.5 * (end[1] - from[1])];
        let middle = [from[0] + half[0], from[1] + half[1]];
        let c = centre.map(|v| v / d.scale);
        let long2 = half[0] * half[0] + half[1] * half[1];
        let off = ((c[1] - middle[1]) * half[0] - (c[0] - middle[0]) * half[1]) / long2;
        let c = [middle[0] - off * half[1], middle[1] + off * half[0]];
        let g = if ccw { "G3" } else { "G2" };
        let how = match chosen(&self.mill.section.arcs) {
            Arcs::Centre => {
                let [i, j] = [c[0] - from[0], c[1] - from[1]].map(|v| d.text(v));
                format!(" I{i} J{j}")
            }
            Arcs::Radius => {
                let r = (c[0] - from[0]).hypot(c[1] - from[1]);
                format!(" R{}", d.text(r))
            }
        };
        // Both axes, also where one of them is as before.
        self.at = [Some(end[0]), Some(end[1]), self.at[2]];
        let feed = self.feed_word(feed);
        let (x, y) = (d.text(end[0]), d.text(end[1]));
        self.word(format!("{g} X{x} Y{y}{how}{feed}"));
    }

    fn cut(&mut self, cut: &Cut) {
        self.say(&format!("{}: {}", cut.operation, cut.what));
        let clear = self.clear;
        let mut cycle = false;
        for go in &cut.way {
            if cycle && !matches!(go, Go::Hole { .. }) {
                self.word("G80");
                cycle = false;
            }
            match *go {
                Go::Over([x, y]) => {
                    self.fast([None, None, Some(clear)]);
                    self.fast([Some(x), Some(y), None]);
                    self.fast([None, None, Some(self.near)]);
                }
                Go::Line { to, feed } => self.line(to.map(Some), feed),
                Go::Arc {
                    to,
                    centre,
                    ccw,
                    feed,
                } => self.arc(to, centre, ccw, feed),
                Go::Hole {
                    at,
                    bottom,
                    stroke,
                    feed,
                } => match chosen(&self.mill.section.cycles) {
                    Cycles::WrittenOut => self.hole(at, bottom, stroke, feed),
                    Cycles::Fixed => {
                        self.cycle(at, bottom, stroke, feed);
                        cycle = true;
                    }
                },
            }
        }
        if cycle {
            self.word("G80");
        }
        self.fast([None, None, Some(clear)]);
    }

    /// A hole, stroke by stroke.
    fn hole(&mut self, at: [f64; 2], bottom: f64, stroke: Stroke, feed: f64) {
        let (clear, near) = (self.clear, self.near);
        let z = |z: f64| [None, None, Some(z)];
        self.fast(z(clear));
        self.fast([Some(at[0]), Some(at[1]), None]);
        self.fast(z(near));
        match stroke {
            Stroke::Plain => self.line(z(bottom), feed),
            Stroke::FeedOut => {
                self.line(z(bottom), feed);
                self.line(z(near), feed);
            }
            Stroke::Pecks(each) => {
                let mut deep = 0.0f64;
                while deep > bottom {
                    let next = (deep - each).max(bottom);
                    if deep < 0.0 {
                        self.fast(z(near));
                        self.line(z(deep + AGAIN), self.mill.feed);
                    }
                    self.line(z(next), feed);
                    deep = next;
                }
            }
        }
        self.fast(z(clear));
    }

    fn cycle(&mut self, at: [f64; 2], bottom: f64, stroke: Stroke, feed: f64) {
        self.fast([None, None, Some(self.clear)]);
        let d = self.digits;
        let (g, q) = match stroke {
            Stroke::Plain => ("G81", String::new()),
            Stroke::FeedOut => ("G85", String::new()),
            Stroke::Pecks(q) => ("G83", format!(" Q{}", d.length(q))),
        };
        let feed = self.feed_word(feed);
        let [x, y] = at.map(|v| d.round(v));
        (self.at[0], self.at[1]) = (Some(x), Some(y));
        self.word(format!(
            "{g} X{} Y{} Z{} R{}{q}{feed}",
            d.text(x),
            d.text(y),
            d.text(d.height(bottom + self.above)),
            d.length(self.near + self.above)
        ));
    }

    /// Asks for a tool and starts the spindle.
    fn tool(&mut self, tool: &Tool, rpm: f64, in_hand: Option<u32>) {
        let n = tool.number;
        if in_hand != Some(n) {
            if in_hand.is_some() && self.above == 0.0 {
                self.word("M5");
            }
            self.say(&format!("tool {n}: {}", tool.name));
            let change = chosen(&self.mill.section.tool_change);
            match change {
                ToolChange::M6 => self.word(format!("T{n} M6")),
                ToolChange::Stop => {
                    self.word(format!("T{n}"));
                    self.word("M0");
                }
                ToolChange::ProgramEach => self.word(format!("T{n}")),
            }
            let usual = change == ToolChange::M6;
            let given = self.mill.section.length_offset.as_ref();
            if given.map_or(usual, |g| g.value) {
                self.word(format!("G43 H{n}"));
                // The length counts from the next move along Z on.
                self.at[2] = None;
                self.fast([None, None, Some(self.clear)]);
            }
            self.feed = None;
        }
        if self.above == 0.0 {
            self.word(format!("S{rpm:.0} M3"));
        }
    }
}

/// The furthest that a way goes along each axis, mm.
fn extent(paths: &Paths) -> [[f64; 2]; 3] {
    let mut out = [[f64::INFINITY, f64::NEG_INFINITY]; 3];
    let mut add = |i: usize, v: f64| out[i] = [out[i][0].min(v), out[i][1].max(v)];
    add(2, paths.clear);
    for go in paths.cuts.iter().flat_map(|c| &c.way) {
        match *go {
            Go::Over([x, y]) => {
                add(0, x);
                add(1, y);
            }
            Go::Line { to, .. } => (0..3).for_each(|i| add(i, to[i])),
            Go::Arc { to, centre, .. } => {
                let r = (to[0] - centre[0]).hypot(to[1] - centre[1]);
                for i in 0..2 {
                    add(i, to[i]);
                    // At most: an arc may end before.
                    add(i, (centre[i] + r).min(to[i].max(centre[i]) + r));
                    add(i, centre[i] - r);
                }
            }
            Go::Hole { at, bottom, .. } => {
                add(0, at[0]);
                add(1, at[1]);
                add(2, bottom);
            }
        }
    }
    out
}

/// The axis whose travel is too short for a set-up: its letter, what is needed, mm.
pub fn off_travel(paths: &Paths, mill: &Mill<'_>) -> Option<(char, f64)> {
    let needed = extent(paths).map(|[from, to]| to - from);
    let axes = ['X', 'Y', 'Z'].into_iter().zip(needed).zip(mill.travel);
    axes.filter(|((_, n), t)| n > t).map(|(a, _)| a).next()
}

/// Cuts in the order of the set-up, divided where the tool changes, if each is to have a program,
/// and where it would run too long.
fn divided<'p>(paths: &'p Paths, mill: &Mill<'_>) -> Vec<&'p [Cut]> {
    let each = chosen(&mill.section.tool_change) == ToolChange::ProgramEach;
    let mut minutes = 0.0;
    let mut from = 0;
    let mut out = Vec::new();
    for (k, cut) in paths.cuts.iter().enumerate() {
        let takes = cut.minutes(paths.top + NEAR, paths.clear);
        let other = k > from && each && paths.cuts[k - 1].tool != cut.tool;
        if k > from && (other || minutes + takes > mill.longest_run) {
            out.push(&paths.cuts[from..k]);
            (from, minutes) = (k, 0.0);
        }
        minutes += takes;
    }
    out.push(&paths.cuts[from..]);
    out
}

/// The cut that alone takes longer than the machine may run, and its minutes.
pub fn too_long<'p>(paths: &'p Paths, mill: &Mill<'_>) -> Option<(&'p Cut, f64)> {
    let each = paths.cuts.iter();
    let minutes = each.map(|c| (c, c.minutes(paths.top + NEAR, paths.clear)));
    minutes
        .filter(|(_, m)| *m > mill.longest_run)
        .reduce(|a, b| if b.1 > a.1 { b } else { a })
}

/// How much higher a run above the work is, mm: the deepest place stays 5 mm over the stock.
fn height_above(paths: &Paths) -> f64 {
    (5.0 - extent(paths)[2][0] + paths.top).ceil()
}

/// The programs of a set-up: one, or several where it is divided; each a second time for a run
/// above the work where that is asked for.
pub fn texts(design: &Design, paths: &Paths, mill: &Mill<'_>) -> Vec<Text> {
    let groups = divided(paths, mill);
    let count = groups.len();
    let above = (mill.section.above.as_ref()).is_some_and(|a| a.value);
    let heights = [Some(0.0), above.then(|| height_above(paths))];
    let each = heights.into_iter().flatten().flat_map(|above| {
        (groups.iter().enumerate()).map(move |(step, cuts)| (above, step, *cuts))
    });
    each.map(|(above, step, cuts)| {
        let of_several = (count > 1).then_some((step + 1, count));
        let number = of_several.map_or_else(String::new, |(i, _)| format!("-step-{i}"));
        let folder = match above > 0.0 {
            true => format!("{FOLDER}/above"),
            false => FOLDER.into(),
        };
        let (text, limits) = text(design, paths, cuts, mill, (of_several, above));
        Text {
            name: format!("{folder}/{}-setup-{}{number}.nc", paths.plate, paths.setup),
            plate: paths.plate.clone(),
            setup: paths.setup,
            face: paths.face,
            step,
            above,
            text,
            limits,
            tools: paths.tools.clone(),
            cuts: cuts.to_vec(),
        }
    })
    .collect()
}

fn text(
    design: &Design,
    paths: &Paths,
    cuts: &[Cut],
    mill: &Mill<'_>,
    (part, above): (Option<(usize, usize)>, f64),
) -> (String, Limits) {
    let inch = match mill.section.units.as_ref().map(|u| u.value) {
        Some(Units::Inch) => true,
        Some(Units::Metric) => false,
        None => System::current() == System::Inch,
    };
    let digits = match inch {
        true => Digits {
            scale: 25.4,
            places: 5,
        },
        false => Digits {
            scale: 1.0,
            places: 4,
        },
    };
    let mut w = Writer {
        mill,
        digits,
        lines: Vec::new(),
        at: [None; 3],
        feed: None,
        clear: paths.clear,
        near: paths.top + NEAR,
        above,
    };
    w.word("%");
    head(&mut w, design, paths, cuts, part);
    let units = match (chosen(&mill.section.unit_words), inch) {
        (UnitWords::Twenties, true) => "G20",
        (UnitWords::Twenties, false) => "G21",
        (UnitWords::Seventies, true) => "G70",
        (UnitWords::Seventies, false) => "G71",
    };
    w.word(format!("{units} G17 G40 G80 G90 G94"));
    for line in mill.section.before.iter().flat_map(|l| &l.value) {
        w.word(line.0.trim());
    }
    w.fast([None, None, Some(paths.clear)]);
    let mut in_hand = None;
    for c in cuts {
        if let Some(tool) = paths.tools.iter().find(|t| t.number == c.tool) {
            w.tool(tool, c.rpm, in_hand);
            in_hand = Some(c.tool);
            w.cut(c);
        }
    }
    w.fast([None, None, Some(paths.clear)]);
    if above == 0.0 {
        w.word("M5");
    }
    for line in mill.section.after.iter().flat_map(|l| &l.value) {
        w.word(line.0.trim());
    }
    w.word("M30");
    w.word("%");
    let numbered = mill.section.line_numbers.as_ref().is_some_and(|n| n.value);
    let mut text = String::new();
    let mut number = 0;
    for line in &w.lines {
        if numbered && !line.starts_with(['%', '(']) {
            number += 10;
            // Five digits; then from the beginning: numbers are only names of lines.
            text.push_str(&format!("N{} ", (number - 10) % 99_990 + 10));
        }
        text.push_str(line);
        text.push('\n');
    }
    let limits = Limits {
        clear: paths.clear + above,
        near: paths.top + NEAR + above,
        spindle: mill.spindle,
        feed: mill.feed,
        travel: mill.travel,
        standing: above > 0.0,
    };
    (text, limits)
}

/// What it is for, how to hold, zero, tools, cautions.
fn head(
    w: &mut Writer<'_>,
    design: &Design,
    paths: &Paths,
    cuts: &[Cut],
    part: Option<(usize, usize)>,
) {
    let unit = if w.digits.scale == 1.0 { "mm" } else { "in" };
    let d = w.digits;
    w.say(&format!(
        "{}, {}, set-up {}: {} up",
        design.title, paths.plate, paths.setup, paths.name
    ));
    w.say(&format!("revision {}", design.revision));
    if let Some((i, n)) = part {
        w.say(&format!("program {i} of {n} of this set-up, in this order"));
    }
    w.say("hold the plate as the machining sheet says, and do what it says before and after by hand: taps, edges, welds");
    w.say(&format!("X Y: {}", paths.note));
    let top = match paths.top.abs() < 1e-9 {
        true => "Z0: the face that is up, as it lies".to_owned(),
        false => format!(
            "Z0: the finished face, {} {unit} below the top of the stock",
            d.length(paths.top)
        ),
    };
    w.say(&top);
    let lowest = extent(paths)[2][0];
    w.say(&format!(
        "lowest Z {} {unit}; fast moves across at Z {} {unit}: every clamp lower than that",
        d.length(lowest),
        d.length(paths.clear)
    ));
    for t in &paths.tools {
        if cuts.iter().any(|c| c.tool == t.number) {
            w.say(&format!(
                "T{}: {}, D {} {unit}",
                t.number,
                t.name,
                d.length(t.dia)
            ));
        }
    }
    w.say("end mills that cut over their centre: they go into the metal along ramps");
    let minutes: f64 = (cuts.iter())
        .map(|c| c.minutes(paths.top + NEAR, paths.clear))
        .sum();
    w.say(&format!("feeds take about {:.0} min", minutes.max(1.0)));
    let higher = d.length(height_above(paths));
    let twice = (w.mill.section.above.as_ref()).is_some_and(|a| a.value);
    let first = match twice {
        true => "the program of the same name in the folder above, a finger on the stop".into(),
        false => {
            format!("this one above the work, Z0 set {higher} {unit} higher, a finger on the stop")
        }
    };
    match w.above > 0.0 {
        true => w.say(&format!(
            "FIRST RUN ABOVE THE WORK: the spindle stands, every height is {higher} {unit} higher than in the program that cuts. CAUTION: a finger on the stop; if anything is touched, zero or a tool's length is wrong"
        )),
        false => w.say(&format!("CAUTION: first run {first}")),
    }
    w.say("CAUTION: start with the tool above the clamps; lengths of all tools touched off; nothing but waste under through holes");
    w.say("CAUTION: guard shut, eyes covered, no gloves; keep to local rules; ask who is trained on the machine");
}
