//! Designs that nobody chose, with their fill: what the fill says must hold for all of them.
//!
//! Sixty in each run, a thousand with `PLATEWRIGHT_NIGHTLY=1`; `PLATEWRIGHT_SEED` begins elsewhere.
//! Held to: volume over flow, what the hand can give, the balances of volume and heat that every
//! run keeps, grades in their order. No solids are made.

use platewright::base::{Code, Level};
use platewright::design::Design;
use platewright::process::{ProcessOptions, ProcessReport, process};
use rayon::prelude::*;
use std::fmt::Write;

/// Numbers of our own (SplitMix64, Steele et al. 2014), so that a seed stays the same design.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    /// Between two limits, to a tenth.
    fn num(&mut self, low: f64, high: f64) -> f64 {
        let share = (self.next() >> 11) as f64 / (1u64 << 53) as f64;
        (10.0 * (low + share * (high - low))).round() / 10.0
    }
    fn one_in(&mut self, n: u64) -> bool {
        self.next().is_multiple_of(n)
    }
    fn of<T: Copy>(&mut self, all: &[T]) -> T {
        all[(self.next() % all.len() as u64) as usize]
    }
}

/// A parameter file: a plate part of any outline with holes, pockets or bosses, or a turned part.
fn parameters(seed: u64) -> String {
    let d = &mut Dice(seed);
    let kinds = ["PP", "HDPE", "LDPE", "PS", "ABS", "PLA", "PETG", "TPU"];
    let mut text = format!("[plastic]\nkind = \"{}\"\n", d.of(&kinds));
    if d.one_in(4) {
        let _ = writeln!(text, "melt_flow = {}", d.num(2.0, 30.0));
    }
    let bore = d.of(&[20, 26, 32, 40]);
    let (stroke, force) = (d.num(80.0, 250.0), d.num(100.0, 250.0));
    let _ = writeln!(
        text,
        "[machine]\nbarrel_bore = {bore}\nstroke = {stroke}\nhand_force = {force}\nlever_ratio = {}\n[nozzle]\nthread = \"G 1/2\"",
        d.num(8.0, 30.0)
    );
    if d.one_in(3) {
        let _ = writeln!(text, "orifice = {}", d.num(3.0, 7.0));
    }
    let direct = if d.one_in(3) { "direct = false\n" } else { "" };
    if d.one_in(5) {
        let (base, lean) = (d.num(8.0, 22.0), d.num(1.0, 4.0));
        let _ = writeln!(
            text,
            "[part]\n[part.profile]\nstart = [0, 0]\nsteps = [{{ to = [{base}, 0] }}, {{ to = [{}, {}] }}]\nwall = {}",
            base + lean,
            d.num(10.0, 45.0),
            d.num(1.5, 3.5)
        );
        let _ = writeln!(
            text,
            "[shop]\nmachines = [\"drill press\", \"mill\", \"lathe\"]"
        );
        return text;
    }
    let cavities = d.of(&[1, 1, 1, 2, 4]);
    if cavities > 1 {
        let _ = writeln!(text, "[mold]\ncavities = {cavities}");
    }
    if !direct.is_empty() {
        let _ = write!(text, "[feed]\n{direct}");
    }
    let thickness = d.num(1.4, 7.0);
    let _ = writeln!(text, "[part]\nthickness = {thickness}\n[part.outline]");
    let (long, short) = (d.num(25.0, 100.0), d.num(12.0, 60.0));
    let least = match d.next() % 4 {
        0 => {
            let _ = writeln!(text, "shape = \"circle\"\ndiameter = {long}");
            long
        }
        1 => {
            let _ = writeln!(
                text,
                "shape = \"rectangle\"\nwidth = {long}\nheight = {short}\ncorner_radius = {}",
                d.num(0.0, 5.0)
            );
            short.min(long)
        }
        2 => {
            let long = long.max(short + 2.0);
            let _ = writeln!(text, "shape = \"slot\"\nlength = {long}\nwidth = {short}");
            short
        }
        _ => {
            let (a, b, t) = (long, short.max(24.0), d.num(6.0, 11.0));
            let _ = writeln!(
                text,
                "shape = \"path\"\nstart = [0, 0]\nsteps = [{{ to = [{a}, 0] }}, {{ to = [{a}, {t}] }}, {{ to = [{t}, {t}] }}, {{ to = [{t}, {b}] }}, {{ to = [0, {b}] }}]"
            );
            0.0
        }
    };
    if least > 16.0 && d.one_in(2) {
        let middle = d.one_in(2);
        let at = if middle { 0.0 } else { -0.2 * least };
        let _ = writeln!(
            text,
            "[[part.hole]]\nat = [{at:.1}, 0]\ndiameter = {:.1}",
            0.25 * least
        );
    }
    if least > 20.0 && thickness > 2.5 && d.one_in(3) {
        let _ = writeln!(
            text,
            "[[part.feature]]\nkind = \"pocket\"\nside = \"top\"\nat = [0, {:.1}]\ndepth = {:.1}\ndiameter = {:.1}",
            0.25 * least,
            0.4 * thickness,
            0.2 * least
        );
    }
    text
}

/// How a design came out.
enum End {
    /// Not accepted as a file.
    Refused,
    /// A stop of the feed: no shot, no number.
    NoShot,
    Filled,
}

fn judge(design: &Design, r: &ProcessReport) -> Result<End, String> {
    if !design.whole_shot {
        return if r.fill.is_none() {
            Ok(End::NoShot)
        } else {
            Err("a fill of a shot that is not whole".into())
        };
    }
    let fill = r
        .fill
        .as_ref()
        .ok_or_else(|| format!("no fill: {:?}", r.missing))?;
    let shot = r.shot.as_ref().ok_or("no shot")?;
    let flow = design.machine.flow() * 1e-3;
    for c in &fill.cases {
        let least = c.filled * shot.cavity_volume * shot.cavities as f64 / flow;
        if c.mass_error > 1e-4 || c.energy_error > 1e-6 {
            return Err(format!(
                "{}: mass {} heat {}",
                c.name, c.mass_error, c.energy_error
            ));
        }
        if c.time < least * (1.0 - 1e-6) {
            return Err(format!(
                "{}: {} s, volume over flow {least} s",
                c.name, c.time
            ));
        }
        if c.pressure > 1.001 * design.machine.pressure || !(0.0..=1.0 + 1e-9).contains(&c.filled) {
            return Err(format!(
                "{}: {} MPa, {} filled",
                c.name, c.pressure, c.filled
            ));
        }
    }
    if let [easy, typical, hard] = &fill.cases[..] {
        let falls = |a: f64, b: f64| b <= a + 0.02;
        if !falls(easy.filled, typical.filled) || !falls(typical.filled, hard.filled) {
            return Err(format!(
                "{} {} {}",
                easy.filled, typical.filled, hard.filled
            ));
        }
    }
    if let Some(c) = &r.cool {
        let [low, usual, high] = c.mold_on_nozzle.unwrap_or([0.0, 0.0, 0.0]);
        let settled = c.mold_steady.unwrap_or(0.0);
        let set = design.plastic.mold_temperature;
        let right = (c.mold_at_work - settled.max(set)).abs() < 1e-9
            && (c.cycle.is_none() || settled <= low)
            && low <= usual
            && usual <= high;
        if !right {
            return Err(format!("mold {settled} {low} {usual} {high}"));
        }
    }
    Ok(End::Filled)
}

fn try_one(seed: u64) -> Result<End, String> {
    let text = parameters(seed);
    let Ok(job) = platewright::spec::read_bytes(text.as_bytes()) else {
        return Ok(End::Refused);
    };
    let Ok(design) = platewright::design::design(&job, "t", &Default::default()) else {
        return Ok(End::Refused);
    };
    let options = ProcessOptions {
        cells: 900,
        margin: false,
        ..ProcessOptions::default()
    };
    let stopped = |code: Code| {
        let mut all = design.findings.iter();
        all.any(|f| f.code == code && f.level == Level::Stop)
    };
    // What no cavity can be made of has no fill either.
    if design.whole_shot && (stopped(Code::WrongSideA) || stopped(Code::WrongSideB)) {
        return Ok(End::NoShot);
    }
    process(&design, &options, &|_| true)
        .map_err(|fault| fault.to_string())
        .and_then(|r| judge(&design, &r))
        .map_err(|why| format!("seed {seed}: {why}\n{text}"))
}

#[test]
fn whatever_is_designed_fills_and_adds_up() {
    let night = std::env::var_os("PLATEWRIGHT_NIGHTLY").is_some();
    let first = std::env::var("PLATEWRIGHT_SEED").map_or(190_000, |s| s.parse().unwrap());
    let count = if night { 1000 } else { 60 };
    let ends: Vec<Result<End, String>> = (first..first + count)
        .into_par_iter()
        .map(try_one)
        .collect();
    let (mut refused, mut none, mut filled) = (0, 0, 0);
    let mut faults = Vec::new();
    for end in ends {
        match end {
            Ok(End::Refused) => refused += 1,
            Ok(End::NoShot) => none += 1,
            Ok(End::Filled) => filled += 1,
            Err(why) => faults.push(why),
        }
    }
    eprintln!("{filled} filled, {none} without a whole shot, {refused} refused");
    assert!(
        faults.is_empty(),
        "{} of {count}:\n{}",
        faults.len(),
        faults.join("\n")
    );
    assert!(10 * filled > 6 * count, "{filled} {none} {refused}");
}
