//! What an operation is: one tool, one setting, one line on the machining sheet.

use super::area::Area;
use super::motion::Motion;
use super::spindle::Machine;
use crate::base::Finding;
use crate::data::profile::Process;
use crate::design::Face;

/// Kinds of operations, in the order they are done in one set-up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Saw, square, deburr the stock.
    Stock,
    /// Cut out by a service.
    Profile,
    /// Clamp, find the datum, mark out.
    Mark,
    /// Face what a weld has drawn.
    Face,
    /// Spot drill.
    Spot,
    /// Pilot hole of a large drill.
    Pilot,
    /// Twist drill.
    Drill,
    /// Counterbore.
    Counterbore,
    /// Ream.
    Ream,
    /// Taper pipe reamer, before the tap.
    PipeReam,
    /// Countersink.
    Countersink,
    /// Turn or bore on a lathe; reliefs behind threads.
    Turn,
    /// Tap.
    Tap,
    /// Cut an external thread.
    Thread,
    /// Rough out with an end mill.
    Rough,
    /// Finish with an end mill.
    Finish,
    /// Clear with a smaller end mill what larger ones did not reach.
    Rest,
    /// Ball mill along a groove.
    Groove,
    /// Taper reamer.
    TaperReam,
    /// Engrave or stamp marks.
    Engrave,
    /// Break edges.
    Deburr,
    /// Polish what touches the plastic.
    Polish,
    /// Lap a face flat.
    Lap,
    /// Vents, last of all.
    Vent,
    /// Vents by hand.
    Scratch,
    /// Weld the nozzle's fitting on.
    Weld,
}

impl Kind {
    /// The word of the trade.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Stock => "prepare stock",
            Kind::Profile => "profile-cut",
            Kind::Mark => "set up and mark out",
            Kind::Face => "face",
            Kind::Weld => "weld",
            Kind::Spot => "spot",
            Kind::Pilot => "drill pilot",
            Kind::Drill => "drill",
            Kind::Counterbore => "counterbore",
            Kind::Ream => "ream",
            Kind::Countersink => "countersink",
            Kind::Tap => "tap",
            Kind::Thread => "cut thread",
            Kind::Turn => "turn",
            Kind::Rough => "mill rough",
            Kind::Finish => "mill finish",
            Kind::Rest => "mill rest",
            Kind::Groove => "mill groove",
            Kind::TaperReam | Kind::PipeReam => "taper-ream",
            Kind::Engrave => "mark",
            Kind::Deburr => "deburr",
            Kind::Polish => "polish",
            Kind::Lap => "lap flat",
            Kind::Vent => "mill vents",
            Kind::Scratch => "scratch vents",
        }
    }
}

/// A step of a feature: which operation finishes it. Features that are no holes have step 0.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Made {
    /// Tag of the feature.
    pub tag: String,
    /// Index of the hole's step.
    pub step: usize,
}

/// Metal that an operation leaves although the plate has it not, as the sheet says.
#[derive(Debug, Clone, PartialEq)]
pub struct Left {
    /// Where.
    pub area: Area,
    /// How high it stands at most, mm.
    pub height: f64,
}

/// Something that must have been done: to a feature, or in the set-up where it has no tag.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Need {
    /// By an operation of this kind.
    pub kind: Kind,
    /// Tag of the feature; empty for the set-up.
    pub tag: String,
}

/// Work that takes no metal, or hardly any, and leaves a state instead: threaded, deburred,
/// polished, lapped, marked out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct State {
    /// Kind of the operation.
    pub kind: Kind,
    /// In which set-up.
    pub setup: usize,
    /// What to do, in words.
    pub what: String,
}

/// A size to be measured.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measure {
    /// What is measured, and tags of the features where; none where it is said with the size.
    pub of: Option<(&'static str, Vec<String>)>,
    /// The size, and how it is measured.
    pub size: String,
}

impl Measure {
    /// The size of one kind of feature.
    pub(super) fn of(what: &'static str, tags: &[String], size: String) -> Self {
        Self {
            of: Some((what, tags.to_vec())),
            size,
        }
    }
    /// Measures that differ by their tags alone, in one.
    pub fn together(all: &[Measure]) -> Vec<Measure> {
        let mut out: Vec<Measure> = Vec::new();
        for m in all {
            match (out.last_mut(), &m.of) {
                (
                    Some(Measure {
                        of: Some((what, tags)),
                        size,
                    }),
                    Some((w, t)),
                ) if what == w && *size == m.size => tags.extend_from_slice(t),
                _ => out.push(m.clone()),
            }
        }
        out
    }
}

impl From<String> for Measure {
    fn from(size: String) -> Self {
        Self { of: None, size }
    }
}

impl From<&str> for Measure {
    fn from(size: &str) -> Self {
        size.to_owned().into()
    }
}

/// `vent land B13, B15: depth 0.03 mm`.
impl std::fmt::Display for Measure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if let Some((what, tags)) = &self.of {
            write!(f, "{what} {}: ", tags.join(", "))?;
        }
        f.write_str(&self.size)
    }
}

/// What a tool is cooled or lubricated with (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Coolant {
    /// The metal is not in the tables.
    Suppliers,
    /// Fluid or wax for aluminium.
    AluminiumFluid,
    /// Cutting oil.
    CuttingOil,
    /// Nothing.
    Dry,
}

impl Coolant {
    /// The words for people.
    pub fn words(self) -> &'static str {
        match self {
            Coolant::Suppliers => "as the metal's supplier says",
            Coolant::AluminiumFluid => "cutting fluid or wax for aluminium, nothing that burns",
            Coolant::CuttingOil => "cutting oil",
            Coolant::Dry => "dry",
        }
    }
}

/// One operation.
#[derive(Debug, Clone, PartialEq)]
pub struct Operation {
    /// 10, 20, 30 … within the plate.
    pub number: usize,
    /// Index of the set-up, from 1.
    pub setup: usize,
    /// The face that looks up.
    pub face: Face,
    /// Kind.
    pub kind: Kind,
    /// What to do, in words.
    pub what: String,
    /// Tags of the features it works on.
    pub tags: Vec<String>,
    /// Steps that are finished by it: each step of each feature by exactly one operation.
    pub makes: Vec<Made>,
    /// The tool.
    pub tool: String,
    /// The machine whose spindle turns it, where one is at hand.
    pub machine: Option<Machine>,
    /// Spindle speed, 1/min.
    pub rpm: Option<f64>,
    /// Speeds that the tables ask for, 1/min: from, to.
    pub wanted: Option<[f64; 2]>,
    /// The tables ask for more than the spindle can turn: `rpm` is its fastest.
    pub limited: bool,
    /// Feed, mm/min.
    pub feed: Option<f64>,
    /// Depth per pass, pecks.
    pub passes: String,
    /// Coolant or lubricant.
    pub coolant: Option<Coolant>,
    /// Estimated time, minutes, with handling.
    pub minutes: f64,
    /// Of that: the tool cuts, by its way and feed, minutes.
    pub cutting: f64,
    /// What to watch.
    pub caution: String,
    /// Sizes to measure and write down.
    pub measure: Vec<Measure>,
    /// What its tool does, in order; empty where it takes no metal, or hardly any.
    pub motions: Vec<Motion>,
    /// What it leaves.
    pub rests: Vec<Left>,
    /// Diameter of a cutter that is led around the axes of its motions, narrower than they, mm.
    pub led: Option<f64>,
    /// Metal that it keeps off the finished shape for a later pass, mm.
    pub allowance: f64,
    /// What has to be done before it.
    pub needs: Vec<Need>,
}

/// How a plate lies on the machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// From 1.
    pub number: usize,
    /// The face that looks up.
    pub face: Face,
    /// Name of that face: "parting face".
    pub name: &'static str,
    /// How X and Y are read.
    pub note: &'static str,
}

/// All operations of one plate.
#[derive(Debug, Clone, PartialEq)]
pub struct PlatePlan {
    /// Name of the plate.
    pub plate: String,
    /// Set-ups in order.
    pub setups: Vec<Setup>,
    /// Operations in order.
    pub operations: Vec<Operation>,
    /// What the finished plate has that no metal shows, each once.
    pub states: Vec<State>,
    /// Metal that the stock has over the lower face until it is faced, mm.
    pub over: f64,
}

impl Operation {
    /// The state that it leaves, where metal does not tell: squared stock is one, for a round
    /// plate is cut out of it.
    pub fn state(&self) -> Option<State> {
        let stock = matches!(self.kind, Kind::Stock | Kind::Profile);
        (self.motions.is_empty() || stock).then(|| State {
            kind: self.kind,
            setup: self.setup,
            what: self.what.clone(),
        })
    }
}

impl PlatePlan {
    /// Estimated time, minutes.
    pub fn minutes(&self) -> f64 {
        self.operations.iter().map(|o| o.minutes).sum()
    }
    /// Of that: tools cut, minutes.
    pub fn cutting(&self) -> f64 {
        self.operations.iter().map(|o| o.cutting).sum()
    }
    /// Every tool once, in order of first use, with the operations that need it.
    pub fn tools(&self) -> Vec<(String, Vec<usize>)> {
        let mut out: Vec<(String, Vec<usize>)> = Vec::new();
        for o in self.operations.iter().filter(|o| !o.tool.is_empty()) {
            match out.iter_mut().find(|t| t.0 == o.tool) {
                Some(t) => t.1.push(o.number),
                None => out.push((o.tool.clone(), vec![o.number])),
            }
        }
        out
    }
    /// Every size to be measured, with its operation.
    pub fn inspection(&self) -> Vec<(usize, &Measure)> {
        self.operations
            .iter()
            .flat_map(|o| o.measure.iter().map(move |m| (o.number, m)))
            .collect()
    }
    /// Steps with the operation that finishes each, sorted: for the proof of completeness.
    pub fn made(&self) -> Vec<(Made, usize)> {
        let mut all: Vec<(Made, usize)> = self
            .operations
            .iter()
            .flat_map(|o| o.makes.iter().map(move |m| (m.clone(), o.number)))
            .collect();
        all.sort();
        all
    }
}

/// The plan of a whole design.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ShopPlan {
    /// One per plate, in the design's order.
    pub plates: Vec<PlatePlan>,
    /// What the workshop lacks.
    pub findings: Vec<Finding>,
    /// The service at hand that cuts plates out.
    pub profile: Option<Process>,
}

impl ShopPlan {
    /// Estimated time of each plate by its name, minutes.
    pub fn minutes(&self) -> std::collections::BTreeMap<String, f64> {
        let all = self.plates.iter();
        all.map(|p| (p.plate.clone(), p.minutes())).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::Measure;

    #[test]
    fn measures_alike_stand_in_one_line() {
        let depth = |what, tag: &str, mm: &str| {
            Measure::of(what, &[tag.to_owned()], format!("depth {mm} mm"))
        };
        let all = [
            depth("vent land", "B13", "0.03"),
            depth("vent land", "B15", "0.03"),
            depth("vent relief", "B14", "0.5"),
            "M6: gauge screws in by hand".into(),
            "M6: gauge screws in by hand".into(),
        ];
        let said: Vec<String> = (Measure::together(&all).iter())
            .map(Measure::to_string)
            .collect();
        assert_eq!(
            said,
            [
                "vent land B13, B15: depth 0.03 mm",
                "vent relief B14: depth 0.5 mm",
                "M6: gauge screws in by hand",
                "M6: gauge screws in by hand",
            ]
        );
    }
}
