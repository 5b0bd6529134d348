//! Reads a program back: words of ISO 6983-1 become moves.
//!
//! Input: text, and what the machine allows. Output: moves of the tool in millimetres, arcs as
//! chords within 1 µm; or the first line that a machine would not or should not carry out. Knows
//! nothing of how the text was written, of plates or of metal.

/// How far the ends of an arc may differ in their distance from its centre, mm.
const RADII: f64 = 1e-3;
/// Chords of arcs, mm.
const CHORD: f64 = 1e-3;
/// Digits that a program leaves off, mm.
const DIGIT: f64 = 2e-4;
/// mm.
const INCH: f64 = 25.4;

/// What the machine allows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Height from which on fast moves across go, mm.
    pub clear: f64,
    /// Height down to which fast moves come, mm, other than in a hole that is drilled.
    pub near: f64,
    /// Slowest and fastest speed, 1/min.
    pub spindle: [f64; 2],
    /// Fastest feed, mm/min.
    pub feed: f64,
    /// Travel along X, Y, Z, mm.
    pub travel: [f64; 3],
    /// The spindle stands all the time: a run above the work.
    pub standing: bool,
}

/// One straight move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Move {
    /// Line of the text, from 1.
    pub line: usize,
    /// Number of the tool in the spindle.
    pub tool: u32,
    /// It is a fast one.
    pub fast: bool,
    /// From, mm.
    pub from: [f64; 3],
    /// To, mm.
    pub to: [f64; 3],
}

/// A line that a machine would not, or should not, carry out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// From 1; 0: the whole text.
    pub line: usize,
    /// What is wrong.
    pub what: String,
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "line {}: {}", self.line, self.what)
    }
}

/// Words of a line without comments and number.
fn words(text: &str) -> Result<Vec<(char, f64)>, String> {
    let mut out = Vec::new();
    let bytes = text.as_bytes();
    let mut k = 0;
    while k < bytes.len() {
        let c = bytes[k] as char;
        match c {
            ' ' | '\t' | '\r' | '%' => k += 1,
            '(' => {
                let end = text[k..].find(')').ok_or("a comment is not closed")?;
                if text[k + 1..k + end].contains('(') {
                    return Err("a comment within a comment".into());
                }
                k += end + 1;
            }
            'A'..='Z' => {
                let start = k + 1;
                k = start;
                while k < bytes.len() && matches!(bytes[k], b'0'..=b'9' | b'.' | b'-' | b'+') {
                    k += 1;
                }
                let number: f64 = text[start..k]
                    .parse()
                    .map_err(|_| format!("\"{}\" is no word", &text[start - 1..k]))?;
                out.push((c, number));
            }
            _ => return Err(format!("\"{c}\" begins no word")),
        }
    }
    Ok(out)
}

/// The state of the machine.
struct Machine<'a> {
    limits: &'a Limits,
    line: usize,
    at: [Option<f64>; 3],
    scale: Option<f64>,
    absolute: bool,
    motion: Option<u32>,
    feed: Option<f64>,
    speed: Option<f64>,
    turning: bool,
    asked: Option<u32>,
    tool: Option<u32>,
    back_to_start: bool,
    retract: f64,
    bottom: f64,
    peck: f64,
    reach: [[f64; 2]; 3],
    ended: bool,
    out: Vec<Move>,
}

/// The moves of a program.
///
/// # Errors
/// The first line that a machine would not, or should not, carry out.
pub fn read(text: &str, limits: &Limits) -> Result<Vec<Move>, Fault> {
    let mut m = Machine {
        limits,
        line: 0,
        at: [None; 3],
        scale: None,
        absolute: false,
        motion: None,
        feed: None,
        speed: None,
        turning: false,
        asked: None,
        tool: None,
        back_to_start: true,
        retract: f64::NAN,
        bottom: f64::NAN,
        peck: f64::NAN,
        reach: [[f64::INFINITY, f64::NEG_INFINITY]; 3],
        ended: false,
        out: Vec::new(),
    };
    for (k, line) in text.lines().enumerate() {
        m.line = k + 1;
        let done = words(line).and_then(|w| m.block(&w));
        done.map_err(|what| Fault { line: k + 1, what })?;
    }
    let whole = |what: &str| {
        Err(Fault {
            line: 0,
            what: what.into(),
        })
    };
    if !m.ended {
        return whole("the program has no end");
    }
    for (i, axis) in ['X', 'Y', 'Z'].into_iter().enumerate() {
        let [from, to] = m.reach[i];
        if to - from > limits.travel[i] + DIGIT {
            return whole(&format!("leaves the travel of {axis}"));
        }
    }
    Ok(m.out)
}

impl Machine<'_> {
    fn block(&mut self, all: &[(char, f64)]) -> Result<(), String> {
        let of = |c: char| all.iter().rev().find(|w| w.0 == c).map(|w| w.1);
        let whole = |v: f64| (v >= 0.0 && v.fract() == 0.0).then_some(v as u32);
        for (c, _) in all {
            if !"NGXYZIJRQPFSTMHO".contains(*c) {
                return Err(format!("{c} is no word that is known"));
            }
            if !"GM".contains(*c) && all.iter().filter(|w| w.0 == *c).count() > 1 {
                return Err(format!("{c} stands twice"));
            }
        }
        if all.iter().all(|w| "NO".contains(w.0)) {
            return Ok(());
        }
        if self.ended {
            return Err("after the program's end".into());
        }
        let mut still = false;
        for (_, v) in all.iter().filter(|w| w.0 == 'G') {
            let g = whole(*v).ok_or_else(|| format!("G{v} is not known"))?;
            match g {
                0..=3 | 81 | 82 | 83 | 85 => self.motion = Some(g),
                17 | 40 | 49 | 54..=59 | 61 | 64 | 94 | 43 => {}
                20 | 70 => self.units(INCH)?,
                21 | 71 => self.units(1.0)?,
                80 => self.motion = None,
                90 => self.absolute = true,
                98 => self.back_to_start = true,
                99 => self.back_to_start = false,
                4 => still = true,
                _ => return Err(format!("G{g} is not known")),
            }
        }
        let scale = self.scale;
        let length = move |v: f64| {
            let scale = scale.ok_or_else(|| "a length before the units".to_owned())?;
            Ok::<f64, String>(v * scale)
        };
        if let Some(f) = of('F') {
            let f = length(f)?;
            if f <= 0.0 || f > self.limits.feed * 1.0001 + 0.01 {
                return Err("a feed that the machine has not".into());
            }
            self.feed = Some(f);
        }
        if let Some(s) = of('S') {
            let [least, most] = self.limits.spindle;
            if s < least - 1e-6 || s > most + 1e-6 {
                return Err("a speed that the spindle has not".into());
            }
            self.speed = Some(s);
        }
        if let Some(t) = of('T') {
            self.asked = Some(whole(t).ok_or("T is no number of a tool")?);
            self.change()?;
        }
        let mut end = false;
        for (_, v) in all.iter().filter(|w| w.0 == 'M') {
            match whole(*v).ok_or_else(|| format!("M{v} is not known"))? {
                3 | 4 if self.limits.standing => {
                    return Err("the spindle starts in a run that it stands in".into());
                }
                3 => {
                    if self.speed.is_none() || self.tool.is_none() {
                        return Err("the spindle starts without a speed or a tool".into());
                    }
                    self.turning = true;
                }
                5 => self.turning = false,
                0 | 6 => self.change()?,
                2 | 30 => end = true,
                7..=12 | 20..=29 | 31..=97 => {}
                m => return Err(format!("M{m} is not known")),
            }
        }
        let offset = all.contains(&('G', 43.0));
        if offset && (self.tool.is_none() || of('H').and_then(whole) != self.tool) {
            return Err("the length of a tool that is not in the spindle".into());
        }
        let mut to = self.at;
        let mut moves = false;
        for (i, c) in ['X', 'Y', 'Z'].into_iter().enumerate() {
            if let Some(v) = of(c) {
                to[i] = Some(length(v)?);
                moves = true;
            }
        }
        if moves && !still {
            if !self.absolute {
                return Err("a move before G90".into());
            }
            let arc = [of('I'), of('J'), of('R')];
            let mut mm = [None; 3];
            for (m, v) in mm.iter_mut().zip(arc) {
                *m = v.map(length).transpose()?;
            }
            let q = of('Q').map(length).transpose()?;
            self.go(to, mm, q)?;
        }
        if end {
            if self.turning {
                return Err("the program ends while the spindle turns".into());
            }
            if self.at[2].is_none_or(|z| z < self.limits.clear - DIGIT) {
                return Err("the program ends with the tool down".into());
            }
            self.ended = true;
        }
        Ok(())
    }

    fn units(&mut self, scale: f64) -> Result<(), String> {
        match self.scale.replace(scale) {
            Some(s) if s != scale => Err("the units change within the program".into()),
            _ => Ok(()),
        }
    }

    /// Whether it may feed.
    fn turns(&self) -> bool {
        self.turning || self.limits.standing
    }

    /// A tool is changed: the spindle stands, the tool is up.
    fn change(&mut self) -> Result<(), String> {
        if self.turning {
            return Err("a tool is changed while the spindle turns".into());
        }
        if self.at[2].is_some_and(|z| z < self.limits.clear - DIGIT) {
            return Err("a tool is changed while it is down".into());
        }
        self.tool = self.asked;
        Ok(())
    }

    fn go(
        &mut self,
        to: [Option<f64>; 3],
        [i, j, r]: [Option<f64>; 3],
        q: Option<f64>,
    ) -> Result<(), String> {
        let motion = self.motion.ok_or("a move, and no word how")?;
        match motion {
            0 => self.straight(to, true),
            1 => self.straight(to, false),
            2 | 3 => self.arc(to, [i, j, r], motion == 3),
            _ => self.hole(to, r, q, motion),
        }
    }

    /// To a place in a line; axes of which nothing is known yet are found at the first word.
    fn straight(&mut self, to: [Option<f64>; 3], fast: bool) -> Result<(), String> {
        let clear = self.limits.clear - DIGIT;
        if !fast && !self.turns() {
            return Err("a feed while the spindle stands".into());
        }
        if !fast && self.feed.is_none() {
            return Err("a feed without its speed".into());
        }
        let across = self.at[..2] != to[..2];
        let (before, after) = (self.at[2], to[2]);
        let after = after.ok_or("a move before the tool is up")?;
        match before {
            None if across => return Err("the first move is not up".into()),
            None if !fast || after < clear => return Err("the first move is not up".into()),
            Some(z) if fast && across && (z < clear || after < clear) => {
                return Err("a fast move across below the clearance height".into());
            }
            Some(z) if fast && after < z && after < self.limits.near - DIGIT => {
                return Err("a fast move down into the stock".into());
            }
            _ => {}
        }
        let known = |p: [Option<f64>; 3]| Some([p[0]?, p[1]?, p[2]?]);
        match (known(self.at), known(to)) {
            (Some(from), Some(to)) => self.moved(from, to, fast)?,
            _ if !fast => return Err("a feed from a place that is not known".into()),
            _ => {}
        }
        self.at = to;
        self.reached(to);
        Ok(())
    }

    fn reached(&mut self, to: [Option<f64>; 3]) {
        for (r, v) in self.reach.iter_mut().zip(to) {
            if let Some(v) = v {
                *r = [r[0].min(v), r[1].max(v)];
            }
        }
    }

    fn moved(&mut self, from: [f64; 3], to: [f64; 3], fast: bool) -> Result<(), String> {
        let tool = self.tool.ok_or("a move without a tool")?;
        self.out.push(Move {
            line: self.line,
            tool,
            fast,
            from,
            to,
        });
        Ok(())
    }

    fn arc(
        &mut self,
        to: [Option<f64>; 3],
        [i, j, r]: [Option<f64>; 3],
        ccw: bool,
    ) -> Result<(), String> {
        if !self.turns() || self.feed.is_none() {
            return Err("an arc without a turning spindle and a feed".into());
        }
        let known = |p: [Option<f64>; 3]| Some([p[0]?, p[1]?, p[2]?]);
        let (Some(a), Some(b)) = (known(self.at), known(to)) else {
            return Err("an arc from a place that is not known".into());
        };
        let centre = match (i, j, r) {
            (None, None, Some(r)) => {
                let half = [0.5 * (b[0] - a[0]), 0.5 * (b[1] - a[1])];
                let h2 = half[0] * half[0] + half[1] * half[1];
                if h2 == 0.0 || r * r < h2 - DIGIT * r.abs() {
                    return Err("an arc whose radius does not reach its end".into());
                }
                let up = (r * r - h2).max(0.0).sqrt() / h2.sqrt();
                // The shorter way round where R is positive.
                let s = if ccw == (r > 0.0) { 1.0 } else { -1.0 };
                [
                    a[0] + half[0] - s * up * half[1],
                    a[1] + half[1] + s * up * half[0],
                ]
            }
            (None, None, None) | (_, _, Some(_)) => {
                return Err("an arc needs its centre or its radius".into());
            }
            (i, j, None) => [a[0] + i.unwrap_or(0.0), a[1] + j.unwrap_or(0.0)],
        };
        let (u, v) = (
            [a[0] - centre[0], a[1] - centre[1]],
            [b[0] - centre[0], b[1] - centre[1]],
        );
        let (ra, rb) = (u[0].hypot(u[1]), v[0].hypot(v[1]));
        // Digits of the radius move the centre far where the arc is nearly half a circle.
        if (ra - rb).abs() > RADII || ra < RADII {
            return Err("the ends of an arc are not as far from its centre".into());
        }
        let mut turn = v[1].atan2(v[0]) - u[1].atan2(u[0]);
        let tau = std::f64::consts::TAU;
        while ccw && turn <= 1e-12 {
            turn += tau;
        }
        while !ccw && turn >= -1e-12 {
            turn -= tau;
        }
        let each = 2.0 * (1.0 - (CHORD / ra).min(0.5)).acos();
        let n = (turn.abs() / each).ceil().max(1.0) as usize;
        let start = u[1].atan2(u[0]);
        let mut from = a;
        for k in 1..=n {
            let t = k as f64 / n as f64;
            let (s, c) = (start + turn * t).sin_cos();
            let p = match k == n {
                true => b,
                false => [
                    centre[0] + ra * c,
                    centre[1] + ra * s,
                    a[2] + t * (b[2] - a[2]),
                ],
            };
            self.moved(from, p, false)?;
            self.reached(p.map(Some));
            from = p;
        }
        self.at = b.map(Some);
        Ok(())
    }

    /// A drilling cycle: fast across, down to R, feed to Z, up again.
    fn hole(
        &mut self,
        to: [Option<f64>; 3],
        r: Option<f64>,
        q: Option<f64>,
        motion: u32,
    ) -> Result<(), String> {
        let first = self.at[2].ok_or("a cycle before the tool is up")?;
        if let Some(r) = r {
            self.retract = r;
        }
        if let Some(q) = q {
            self.peck = q;
        }
        if to[2] != self.at[2] {
            self.bottom = to[2].unwrap_or(f64::NAN);
        }
        let (retract, bottom, peck) = (self.retract, self.bottom, self.peck);
        if !(bottom < retract && retract <= first) {
            return Err("a cycle whose heights are not one over the other".into());
        }
        let at = |z: f64| [to[0], to[1], Some(z)];
        self.straight(at(first), true)?;
        self.straight(at(retract), true)?;
        match motion {
            83 => {
                if peck.is_nan() || peck <= 0.0 {
                    return Err("pecks without their depth".into());
                }
                let mut deep = retract;
                while deep > bottom {
                    deep = (deep - peck).max(bottom);
                    self.straight(at(deep), false)?;
                    self.straight(at(retract), true)?;
                    // Back down fast in the hole that is drilled: it is as wide as the tool.
                    self.at[2] = Some(retract);
                }
            }
            85 => {
                self.straight(at(bottom), false)?;
                self.straight(at(retract), false)?;
            }
            _ => {
                self.straight(at(bottom), false)?;
                self.straight(at(retract), true)?;
            }
        }
        if self.back_to_start {
            self.straight(at(first), true)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: Limits = Limits {
        standing: false,
        clear: 25.0,
        near: 2.0,
        spindle: [100.0, 3000.0],
        feed: 1000.0,
        travel: [200.0, 200.0, 100.0],
    };
    const SOUND: &str = "%\nG21 G90 G17\nG0 Z25\nT1 M6\nS2000 M3\nG0 X0 Y0\nG0 Z2\nG1 Z-1 F100\n\
        G1 X10\nG3 X10 Y10 I0 J5\nG1 X0\nG0 Z25\nM5\nM30\n%\n";

    #[test]
    fn a_half_circle_is_where_it_should_be() {
        let moves = read(SOUND, &LIMITS).expect("sound");
        let right = moves.iter().map(|m| m.to[0]).fold(0.0, f64::max);
        assert!((right - 15.0).abs() < 2e-3, "{right}");
        let clockwise = read(&SOUND.replace("G3", "G2"), &LIMITS).expect("sound");
        let left = clockwise.iter().map(|m| m.to[0]).fold(0.0, f64::max);
        assert!((left - 10.0).abs() < 1e-9, "{left}");
        let by_radius = read(&SOUND.replace("I0 J5", "R5"), &LIMITS).expect("sound");
        assert_eq!(by_radius.len(), moves.len());
    }

    /// Each of these would wreck something: none is read.
    #[test]
    fn what_a_machine_should_not_do_is_refused() {
        let spoilt = [
            ("G21 ", "", "before the units"),
            (" G90", "", "before G90"),
            ("G0 Z25\nT1", "T1", "before the tool is up"),
            ("T1 M6\n", "", "without a speed or a tool"),
            ("S2000 M3", "S9000 M3", "spindle has not"),
            ("S2000 M3\n", "", "spindle stands"),
            ("F100", "F9000", "machine has not"),
            (" F100", "", "without its speed"),
            ("G0 Z2\nG1 Z-1", "G0 Z-1\nG1 Z-1", "down into the stock"),
            ("G1 X0\n", "G0 X0\n", "below the clearance"),
            ("J5", "J5.1", "not as far"),
            ("M5\n", "", "spindle turns"),
            ("G0 Z25\nM5", "M5", "tool down"),
            ("M30\n", "", "no end"),
            ("G1 X10\n", "G1 X1000\n", "not as far"),
            ("G1 X0\n", "G1 X-300\n", "travel of X"),
            ("G1 X0\n", "G1 U0\n", "no word"),
            ("G1 X0\n", "G1 X0X1\n", "twice"),
            ("G1 X0\n", "G91 X0\n", "not known"),
            ("T1 M6", "T1 M6\nG43 H2", "length of a tool"),
        ];
        for (from, to, what) in spoilt {
            let text = SOUND.replacen(from, to, 1);
            assert_ne!(text, SOUND);
            let found = read(&text, &LIMITS).expect_err(to).to_string();
            assert!(found.contains(what), "{to:?}: {found}");
        }
    }

    #[test]
    fn cycles_go_down_and_up() {
        let text =
            "G21 G90\nG0 Z25\nT1 M6\nS2000 M3\nG98\nG83 X1 Y2 Z-7 R2 Q4 F100\nX5\nG80\nM5\nM30\n";
        // The place before the first hole is known only across: it is found at the first word.
        let moves = read(text, &LIMITS).expect("sound");
        let depths: Vec<f64> = (moves.iter())
            .filter(|m| !m.fast && m.to[0] == 5.0)
            .map(|m| m.to[2])
            .collect();
        assert_eq!(depths, [-2.0, -6.0, -7.0]);
    }
}
