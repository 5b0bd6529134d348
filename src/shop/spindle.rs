//! Spindles: which machine does an operation, and which speeds it can turn.
//!
//! Input: the `[shop]` section. Output: [`Spindle`]s. Does not know what speed a tool wants.

use crate::base::decision::Rule;
use crate::base::units::number;
use crate::base::{Decisions, FileKey};
use crate::spec::job::{Opt, ShopMachine, ShopSection};

/// A machine with a spindle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Machine {
    /// Drill press.
    DrillPress,
    /// Milling machine.
    Mill,
    /// CNC mill or router.
    Cnc,
    /// Lathe.
    Lathe,
}

impl Machine {
    /// What it is in the parameter file.
    pub fn in_file(self) -> ShopMachine {
        match self {
            Machine::DrillPress => ShopMachine::DrillPress,
            Machine::Mill => ShopMachine::Mill,
            Machine::Cnc => ShopMachine::Cnc,
            Machine::Lathe => ShopMachine::Lathe,
        }
    }
    /// Its word in the parameter file.
    pub fn word(self) -> &'static str {
        self.in_file().word()
    }
    /// The key that lists its speeds.
    pub fn key(self) -> FileKey {
        match self {
            Machine::DrillPress => ShopSection::drill_press_speeds,
            Machine::Mill => ShopSection::mill_speeds,
            Machine::Cnc => ShopSection::cnc_speeds,
            Machine::Lathe => ShopSection::lathe_speeds,
        }
    }
}

/// Kinds of work by what the spindle must stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Work {
    /// Along the axis: drill, countersink.
    Drilling,
    /// Along the axis, where place and roundness count: reamer, counterbore.
    Boring,
    /// Across the axis: end mills.
    Milling,
    /// The metal turns.
    Turning,
}

impl Work {
    /// Machines that can do it, the handiest first (common practice, no source).
    pub fn machines(self) -> &'static [Machine] {
        match self {
            Work::Drilling => &[
                Machine::DrillPress,
                Machine::Mill,
                Machine::Cnc,
                Machine::Lathe,
            ],
            Work::Boring => &[
                Machine::Mill,
                Machine::Cnc,
                Machine::DrillPress,
                Machine::Lathe,
            ],
            Work::Milling => &[Machine::Mill, Machine::Cnc],
            Work::Turning => &[Machine::Lathe],
        }
    }
}

/// Speeds of a usual bench lathe, 1/min (common practice, no source).
const LATHE: [f64; 2] = [100.0, 2000.0];

/// A machine's speeds.
#[derive(Debug, Clone, PartialEq)]
pub struct Spindle {
    /// Whose; `None` for what is at hand nowhere.
    pub machine: Option<Machine>,
    /// 1/min, ascending, never empty. Two: anything between them.
    speeds: Vec<f64>,
}

impl Spindle {
    /// From any list of speeds, 1/min.
    pub(super) fn new(machine: Option<Machine>, mut speeds: Vec<f64>) -> Self {
        speeds.sort_by(f64::total_cmp);
        speeds.dedup();
        Self { machine, speeds }
    }
    /// Slowest, 1/min.
    pub fn slowest(&self) -> f64 {
        self.speeds[0]
    }
    /// Fastest, 1/min.
    pub fn fastest(&self) -> f64 {
        self.speeds[self.speeds.len() - 1]
    }
    /// The speed to set, 1/min: stepless rounded to 10, else the next step below; the nearest
    /// end where the range does not reach.
    pub fn turn(&self, wanted: f64) -> f64 {
        if self.speeds.len() == 2 {
            let round = (wanted / 10.0).round() * 10.0;
            return round.clamp(self.slowest(), self.fastest());
        }
        let below = self.speeds.iter().rev().find(|s| **s <= wanted * 1.001);
        *below.unwrap_or(&self.speeds[0])
    }
}

/// Decides the speeds of each machine at hand, and of one that nobody named; `general` is
/// `spindle_min` and `spindle_max`, 1/min.
pub(super) fn decide(
    section: &ShopSection,
    machines: &[ShopMachine],
    general: [f64; 2],
    decisions: &mut Decisions,
) -> Vec<Spindle> {
    let given: [(Machine, &Opt<Vec<f64>>); 4] = [
        (Machine::DrillPress, &section.drill_press_speeds),
        (Machine::Mill, &section.mill_speeds),
        (Machine::Cnc, &section.cnc_speeds),
        (Machine::Lathe, &section.lathe_speeds),
    ];
    let mut all: Vec<Spindle> = given
        .into_iter()
        .filter(|(m, _)| machines.contains(&m.in_file()))
        .map(|(machine, given)| {
            let speeds = decisions.decide(
                machine.key(),
                given.as_ref(),
                |s| words(s),
                || {
                    let (speeds, why) = if machine == Machine::Lathe {
                        (LATHE, "a usual bench lathe")
                    } else {
                        (general, "from shop.spindle_min to shop.spindle_max")
                    };
                    let rule = Rule::new(why, "common practice, no source")
                        .changes_with("the speeds on your machine's plate");
                    (speeds.to_vec(), rule)
                },
            );
            Spindle::new(Some(machine), speeds)
        })
        .collect();
    all.push(Spindle::new(None, general.to_vec()));
    all
}

fn words(speeds: &[f64]) -> String {
    let all: Vec<String> = speeds.iter().map(|s| number(*s)).collect();
    match all.as_slice() {
        [from, to] => format!("{from} to {to} 1/min"),
        _ => format!("{} 1/min", all.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stepless_within_its_ends_and_by_steps_never_above() {
        let mill = Spindle::new(Some(Machine::Mill), vec![2500.0, 100.0]);
        assert_eq!(
            [50.0, 923.4, 9000.0].map(|n| mill.turn(n)),
            [100.0, 920.0, 2500.0]
        );
        let belts = Spindle::new(None, vec![500.0, 850.0, 1225.0]);
        assert_eq!(
            [50.0, 849.9, 1200.0, 9000.0].map(|n| belts.turn(n)),
            [500.0, 850.0, 850.0, 1225.0]
        );
        assert_eq!(Spindle::new(None, vec![700.0]).turn(10.0), 700.0);
    }
}
