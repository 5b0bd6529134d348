//! How a quantity is written for people: kind and value to text, in the units of the output.
//!
//! Input: what is measured and the exact number in the unit it is stored in ([`crate::units`]).
//! Output: text in millimetres and their like, or in inches and theirs. Every number of every
//! sentence, table and drawing that has a unit goes through here, and is rounded here alone.
//!
//! The system is that of the thread that writes: [`System::within`] sets it for as long as a
//! closure runs, [`System::current`] carries it on to other threads. A file's `output.units` says
//! which it is; nothing that is computed hangs on it.
//!
//! Inches, after the habits of the trade: three decimals, always written; four below a tenth of
//! an inch and wherever millimetres have three (fits, vents, gaps). 1 in is 25.4 mm exactly, 1 lbf
//! 4.4482216152605 N (NIST SP 811, appendix B, from memory).

use crate::dimension::Dimension;
use crate::units::{decimals, number};
use serde::Serialize;
use std::cell::Cell;

/// The units that people read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum System {
    /// Millimetres, newtons, megapascals, degrees Celsius.
    #[default]
    Metric,
    /// Inches, pounds, psi, degrees Fahrenheit.
    Inch,
}

thread_local! {
    static CURRENT: Cell<System> = const { Cell::new(System::Metric) };
}

impl System {
    /// The one that holds for what this thread writes.
    pub fn current() -> Self {
        CURRENT.get()
    }
    /// True where inches are written.
    pub fn inches() -> bool {
        Self::current() == System::Inch
    }
    /// Sets it for what this thread writes from now on: where a file has just been read that says
    /// which it is.
    pub fn enter(self) {
        CURRENT.set(self);
    }
    /// Runs the closure with this system, and puts the one before back.
    pub fn within<T>(self, run: impl FnOnce() -> T) -> T {
        /// Puts it back when the closure panics too.
        struct Before(System);
        impl Drop for Before {
            fn drop(&mut self) {
                CURRENT.set(self.0);
            }
        }
        let _before = Before(CURRENT.replace(self));
        run()
    }
}

/// What is measured, and in which unit the number is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A length in mm.
    Length,
    /// An area in mm².
    Area,
    /// An area in cm².
    PlanArea,
    /// A volume in cm³.
    Volume,
    /// A volume in mm³.
    SmallVolume,
    /// A force in N.
    Force,
    /// A force in kN.
    LargeForce,
    /// A pressure in MPa.
    Pressure,
    /// A pressure in kPa.
    SmallPressure,
    /// A torque in N·m.
    Torque,
    /// A temperature in °C.
    Temperature,
    /// A difference of temperatures in K.
    Warmer,
    /// A feed in mm/min.
    Feed,
    /// A feed in mm a turn.
    TurnFeed,
    /// A cutting speed in m/min.
    CuttingSpeed,
    /// A speed in mm/s.
    Speed,
    /// A flow in cm³/s.
    Flow,
    /// A mass in kg (of plates; shots are weighed in grams everywhere).
    Mass,
    /// A fit or a gap in µm.
    Fine,
}

/// One inch in mm, by definition.
pub const INCH: f64 = 25.4;
/// One pound-force in N, by definition of pound and standard gravity.
const POUND_FORCE: f64 = 4.448_221_615_260_5;
/// One psi in MPa.
const PSI: f64 = POUND_FORCE / (INCH * INCH);
/// One pound-foot in N·m.
const POUND_FOOT: f64 = POUND_FORCE * 0.3048;
/// One pound in kg, by definition.
const POUND: f64 = 0.453_592_37;
/// Torques up to here are written in lbf·in, N·m: 10 lbf·ft.
const SMALL_TORQUE: f64 = 10.0 * POUND_FOOT;

/// What an inch workshop writes: unit, value of one, zero of the scale, decimals.
struct Customary {
    unit: &'static str,
    one: f64,
    zero: f64,
    places: usize,
}

impl Kind {
    /// That of a dimension of the parameter file; none where both systems write the same unit.
    pub fn of(dimension: Dimension) -> Option<Self> {
        match dimension {
            Dimension::Length => Some(Kind::Length),
            Dimension::Force => Some(Kind::Force),
            Dimension::Pressure => Some(Kind::Pressure),
            Dimension::Temperature => Some(Kind::Temperature),
            Dimension::Speed => Some(Kind::Speed),
            _ => None,
        }
    }

    /// Unit of the number as it is held.
    fn metric(self) -> &'static str {
        match self {
            Kind::Length => "mm",
            Kind::Area => "mm²",
            Kind::PlanArea => "cm²",
            Kind::Volume => "cm³",
            Kind::SmallVolume => "mm³",
            Kind::Force => "N",
            Kind::LargeForce => "kN",
            Kind::Pressure => "MPa",
            Kind::SmallPressure => "kPa",
            Kind::Torque => "N·m",
            Kind::Temperature => "°C",
            Kind::Warmer => "K",
            Kind::Feed => "mm/min",
            Kind::TurnFeed => "mm/turn",
            Kind::CuttingSpeed => "m/min",
            Kind::Speed => "mm/s",
            Kind::Flow => "cm³/s",
            Kind::Mass => "kg",
            Kind::Fine => "µm",
        }
    }

    /// What stands for it in inches; `metric`: decimals that its metric number has.
    fn customary(self, value: f64, metric: usize) -> Customary {
        let of = |unit, one, places| Customary {
            unit,
            one,
            zero: 0.0,
            places,
        };
        // As given: no more digits than a gauge of its kind shows.
        let given = metric >= 4;
        let metric = match self {
            Kind::Length | Kind::SmallVolume | Kind::Fine => metric,
            Kind::Pressure if given => 3,
            Kind::Volume | Kind::Flow if given => 2,
            _ if given => 1,
            _ => metric,
        };
        match self {
            Kind::Length => {
                let fine = metric == 3 || (value != 0.0 && value.abs() < 0.1 * INCH);
                of("in", INCH, if fine { 4 } else { 3 })
            }
            Kind::Area => of("in²", INCH * INCH, 3 + metric.min(1)),
            Kind::PlanArea => of("in²", INCH * INCH / 100.0, metric + 1),
            Kind::Volume => of("in³", INCH.powi(3) / 1000.0, metric + 1),
            Kind::SmallVolume => of("in³", INCH.powi(3), metric + 4),
            Kind::Force => of("lbf", POUND_FORCE, metric),
            Kind::LargeForce => of("lbf", POUND_FORCE / 1000.0, 0),
            Kind::Pressure => of("psi", PSI, metric.saturating_sub(2)),
            Kind::SmallPressure => of("psi", PSI * 1000.0, metric + 1),
            Kind::Torque if value.abs() < SMALL_TORQUE => of("lbf·in", POUND_FOOT / 12.0, metric),
            Kind::Torque => of("lbf·ft", POUND_FOOT, metric),
            Kind::Temperature => Customary {
                zero: 32.0,
                ..of("°F", 5.0 / 9.0, metric)
            },
            Kind::Warmer => of("°F", 5.0 / 9.0, metric),
            Kind::Feed => of("in/min", INCH, metric + 1),
            Kind::TurnFeed => of("in/turn", INCH, 4),
            Kind::CuttingSpeed => of("ft/min", 0.3048, metric),
            Kind::Speed => of("in/s", INCH, metric + 2),
            Kind::Flow => of("in³/s", INCH.powi(3) / 1000.0, metric + 1),
            Kind::Mass => of("lb", POUND, metric),
            Kind::Fine => of("in", INCH * 1000.0, 4),
        }
    }

    /// The unit that [`quantity`] writes; of torques, where one column holds several, that of
    /// the large ones.
    pub fn unit(self) -> &'static str {
        match System::current() {
            System::Metric => self.metric(),
            System::Inch => self.customary(f64::INFINITY, 0).unit,
        }
    }

    /// The number as it is written, in its unit: for charts and scales.
    pub fn value(self, value: f64) -> f64 {
        match System::current() {
            System::Metric => value,
            System::Inch => {
                let c = self.customary(f64::INFINITY, 0);
                value / c.one + c.zero
            }
        }
    }

    fn text(self, value: f64, metric: usize) -> (String, &'static str) {
        match System::current() {
            System::Metric => (decimals(value, metric), self.metric()),
            System::Inch => {
                let c = self.customary(value, metric);
                let shown = value / c.one + c.zero;
                let text = match self {
                    Kind::Length | Kind::Fine | Kind::TurnFeed => fixed(shown, c.places),
                    _ => decimals(shown, c.places),
                };
                (text, c.unit)
            }
        }
    }
}

/// All decimals written, never "-0".
fn fixed(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// A quantity with its unit; metric with at most `places` decimals: `12.5 mm`, `0.492 in`.
pub fn quantity(kind: Kind, value: f64, places: usize) -> String {
    let (text, unit) = kind.text(value, places);
    format!("{text} {unit}")
}

/// The number alone, where the unit stands elsewhere: behind the last of several, or in a head.
/// Of torques that are smaller than 10 lbf·ft the unit differs: write them one by one.
pub fn bare(kind: Kind, value: f64, places: usize) -> String {
    match (System::current(), kind) {
        (System::Inch, Kind::Torque) => decimals(kind.value(value), places),
        _ => kind.text(value, places).0,
    }
}

/// Two numbers and their unit: `10 to 20 N`.
pub fn range(kind: Kind, from: f64, to: f64, places: usize) -> String {
    let (to, unit) = (bare(kind, to, places), kind.unit());
    format!("{} to {to} {unit}", bare(kind, from, places))
}

/// A length with its unit, millimetres with at most `places` decimals.
pub fn length(mm: f64, places: usize) -> String {
    quantity(Kind::Length, mm, places)
}

/// A length without its unit, as in a table or on a drawing that says it once.
pub fn bare_length(mm: f64, places: usize) -> String {
    bare(Kind::Length, mm, places)
}

/// The same with all its decimals, four in inches: limits of a fit, one under the other.
pub fn fixed_length(mm: f64, places: usize) -> String {
    match System::current() {
        System::Metric => fixed(mm, places),
        System::Inch => bare(Kind::Length, mm, 3),
    }
}

/// The unit of lengths as a sentence names it: "all sizes in mm", "in inches".
pub fn length_word() -> &'static str {
    match System::current() {
        System::Metric => "mm",
        System::Inch => "inches",
    }
}

/// The pressure of a hand machine, roughly.
pub fn few_units_of_pressure() -> &'static str {
    match System::current() {
        System::Metric => "a few MPa",
        System::Inch => "several hundred psi",
    }
}

/// A quantity as the parameter file takes it: a plain number of the unit that it is held in, or
/// text with the unit that is read here; of inches always four decimals.
pub fn written(kind: Kind, value: f64, places: usize) -> String {
    match (System::current(), kind) {
        (System::Metric, _) => decimals(value, places),
        (System::Inch, Kind::Length) => format!("\"{:.4} in\"", value / INCH),
        (System::Inch, _) => format!("\"{}\"", quantity(kind, value, places)),
    }
}

/// A length as it was given or chosen, with its unit: metric with all its decimals up to four.
pub fn size(mm: f64) -> String {
    format!("{} {}", bare_size(mm), Kind::Length.unit())
}

/// The same without its unit.
pub fn bare_size(mm: f64) -> String {
    match System::current() {
        System::Metric => number(mm),
        System::Inch => bare(Kind::Length, mm, 2),
    }
}

/// A length as a workshop reads it off a gauge, without its unit: hundredths of a millimetre,
/// thousandths below 1 mm.
pub fn gauged(mm: f64) -> String {
    bare_length(mm, if mm.abs() < 1.0 { 3 } else { 2 })
}

/// The same with its unit.
pub fn gauged_length(mm: f64) -> String {
    format!("{} {}", gauged(mm), Kind::Length.unit())
}

/// What the numbers of a column are counted in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Unit {
    /// The same everywhere; empty for a ratio.
    Fixed(&'static str),
    /// As people read it.
    Of(Kind),
}

impl Unit {
    /// The unit as it is read; empty for a ratio.
    pub fn word(self) -> &'static str {
        match self {
            Unit::Fixed(word) => word,
            Unit::Of(kind) => kind.unit(),
        }
    }
    /// A stored number in that unit.
    pub fn value(self, stored: f64) -> f64 {
        match self {
            Unit::Fixed(_) => stored,
            Unit::Of(kind) => kind.value(stored),
        }
    }
    /// The number as it is read, without its unit.
    pub fn number(self, stored: f64, places: usize) -> String {
        match self {
            Unit::Fixed(_) => decimals(stored, places),
            Unit::Of(kind) => bare(kind, stored, places),
        }
    }
}

/// A sentence of a table with its sizes as people read them: "above 280 °C", "260 to 280 °C",
/// "26 mm, a pipe" become "above 536 °F", "500 to 536 °F", "1.024 in, a pipe".
pub fn sentence(text: &str) -> String {
    if System::current() == System::Metric {
        return text.to_owned();
    }
    let kinds = [
        Kind::Temperature,
        Kind::Length,
        Kind::Force,
        Kind::Pressure,
        Kind::Speed,
    ];
    let mut words: Vec<String> = text.split(' ').map(str::to_owned).collect();
    for i in 1..words.len() {
        let word = words[i].trim_end_matches([',', ';', '.', ':', ')']);
        let Some(kind) = kinds.into_iter().find(|k| k.metric() == word) else {
            continue;
        };
        let before = words[i - 1].trim_start_matches('(');
        let Ok(value) = before.parse() else {
            continue;
        };
        let opened = &words[i - 1][..words[i - 1].len() - before.len()];
        let read = format!("{opened}{}", bare(kind, value, 0));
        words[i] = format!("{}{}", kind.unit(), &words[i][word.len()..]);
        words[i - 1] = read;
        // "260 to 280 °C": the unit stands behind both.
        if i >= 3
            && words[i - 2] == "to"
            && let Ok(value) = words[i - 3].parse()
        {
            words[i - 3] = bare(kind, value, 0);
        }
    }
    words.join(" ")
}

/// Roughness Ra with its unit; inches take the microinches that ASME B46.1 sets beside the usual
/// steps (from memory).
pub fn roughness(um: f64) -> String {
    const STEPS: [(f64, f64); 6] = [
        (0.4, 16.0),
        (0.8, 32.0),
        (1.6, 63.0),
        (3.2, 125.0),
        (6.3, 250.0),
        (12.5, 500.0),
    ];
    match System::current() {
        System::Metric => number(um),
        System::Inch => {
            let step = STEPS.iter().find(|s| (s.0 - um).abs() < 1e-9);
            let micro = step.map_or(um / 0.0254, |s| s.1);
            format!("{} µin", decimals(micro, 0))
        }
    }
}

/// A length in inches as a rule has it: whole inches and 64ths, where it is one of those to a
/// hundredth of a 64th.
pub fn inch_fraction(mm: f64) -> Option<String> {
    let parts = mm / INCH * 64.0;
    let whole = parts.round();
    if (parts - whole).abs() > 0.01 || !(1.0..1e6).contains(&whole) {
        return None;
    }
    let (mut top, mut below) = (whole as u64, 64);
    while top.is_multiple_of(2) && below > 1 {
        (top, below) = (top / 2, below / 2);
    }
    Some(match (top / below, top % below) {
        (n, 0) => format!("{n}"),
        (0, m) => format!("{m}/{below}"),
        (n, m) => format!("{n} {m}/{below}"),
    })
}

/// The size of a cutter as its maker writes it, without a unit: millimetres; or inches by their
/// fraction, else with four decimals.
pub fn tool_size(mm: f64) -> String {
    match System::current() {
        System::Metric => number(mm),
        System::Inch => inch_fraction(mm).unwrap_or_else(|| fixed(mm / INCH, 4)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_of_tables_change_their_units() {
        let said = "26 mm, the inside of a 1 inch pipe; 0.4 to 0.8 mm more; 90 °C (150 N)";
        assert_eq!(sentence(said), said);
        System::Inch.within(|| {
            assert_eq!(
                sentence(said),
                "1.024 in, the inside of a 1 inch pipe; 0.0157 to 0.0315 in more; 194 °F (34 lbf)"
            );
        });
    }

    #[test]
    fn metric_is_what_it_was() {
        assert_eq!(length(12.345, 2), "12.35 mm");
        assert_eq!(size(6.35), "6.35 mm");
        assert_eq!(range(Kind::Force, 10.0, 20.4, 0), "10 to 20 N");
        assert_eq!(
            (gauged(0.1234), gauged(12.0)),
            ("0.123".into(), "12".into())
        );
    }

    /// NIST SP 811: 1 in = 25.4 mm, 1 psi = 6.894757 kPa, 1 lbf = 4.448222 N, 1 lbf·ft =
    /// 1.355818 N·m, 1 lbf·in = 0.1129848 N·m, 1 lb = 0.4535924 kg (from memory).
    #[test]
    fn inches_by_the_book() {
        System::Inch.within(|| {
            assert_eq!(size(101.6), "4.000 in");
            assert_eq!(size(19.05), "0.750 in");
            assert_eq!(size(1.5875), "0.0625 in");
            assert_eq!(length(6.357, 3), "0.2503 in");
            assert_eq!(length(0.0, 2), "0.000 in");
            assert_eq!(length(-1e-9, 2), "0.0000 in");
            assert_eq!(quantity(Kind::Force, 444.8222, 0), "100 lbf");
            assert_eq!(quantity(Kind::LargeForce, 4.448222, 1), "1000 lbf");
            assert_eq!(quantity(Kind::Pressure, 6.894757, 1), "1000 psi");
            assert_eq!(quantity(Kind::Torque, 27.11636, 0), "20 lbf·ft");
            assert_eq!(quantity(Kind::Torque, 5.64924, 0), "50 lbf·in");
            assert_eq!(quantity(Kind::Temperature, 230.0, 0), "446 °F");
            assert_eq!(quantity(Kind::Temperature, -40.0, 0), "-40 °F");
            assert_eq!(quantity(Kind::Warmer, 10.0, 0), "18 °F");
            assert_eq!(quantity(Kind::Volume, 16.387064, 1), "1 in³");
            assert_eq!(quantity(Kind::CuttingSpeed, 30.48, 0), "100 ft/min");
            assert_eq!(quantity(Kind::Feed, 254.0, 0), "10 in/min");
            assert_eq!(quantity(Kind::Mass, 4.535924, 1), "10 lb");
            assert_eq!(quantity(Kind::Fine, 12.7, 0), "0.0005 in");
            assert_eq!(roughness(3.2), "125 µin");
            assert_eq!(
                sentence("wants 260 to 280 °C and drying at 160 °C; above 280 °C."),
                "wants 500 to 536 °F and drying at 320 °F; above 536 °F."
            );
        });
        assert_eq!(System::current(), System::Metric);
    }

    #[test]
    fn fractions_of_a_rule() {
        for (mm, text) in [
            (19.05, "3/4"),
            (38.1, "1 1/2"),
            (25.4, "1"),
            (7.14375, "9/32"),
            (0.396875, "1/64"),
        ] {
            assert_eq!(inch_fraction(mm).as_deref(), Some(text));
        }
        assert_eq!(inch_fraction(7.0), None);
        assert_eq!(inch_fraction(0.0), None);
    }

    proptest::proptest! {
        /// What is written, read back, is within half of its last place.
        #[test]
        fn written_lengths_are_read_back(mm in -5_000.0..5_000.0_f64, places in 0_usize..4) {
            let text = System::Inch.within(|| bare_length(mm, places));
            let read: f64 = text.parse().unwrap();
            let last = 0.1_f64.powi(text.split_once('.').unwrap().1.len() as i32);
            proptest::prop_assert!((read * INCH - mm).abs() <= 0.5001 * last * INCH, "{text}");
        }
    }
}
