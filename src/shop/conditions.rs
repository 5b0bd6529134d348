//! Spindle speed, feed and pecks of one tool in one metal.
//!
//! Input: the metal, the cut, the tool's diameter, the workshop. Output: numbers to set.
//! Speeds and feeds come from `data::cutting`; n = 1000 v / (π d), limited to the spindle of
//! the machine that does the work.

use super::spindle::{Machine, Work};
use super::workshop::Workshop;
use crate::base::shown;
use crate::data::cutting::{Cut, CuttingData, PASS_DEPTH, ToolMaterial, cutting, slotting};
use crate::data::formulae::{drill_feed, spindle_speed, table_feed};
use crate::data::material;

/// What to set on the machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Conditions {
    /// The machine, where one is at hand.
    pub machine: Option<Machine>,
    /// Spindle speed, 1/min.
    pub rpm: f64,
    /// Speeds that the tables ask for, 1/min: from, to; `rpm` aims at their middle.
    pub wanted: [f64; 2],
    /// Feed, mm/min.
    pub feed: f64,
    /// The spindle's fastest is below the middle of what the tables ask for.
    pub limited: bool,
}

/// Cutting edges of an end mill that the feed is reckoned with: two, the usual slot drill.
pub const TEETH: f64 = 2.0;

/// Speed and feed factors for drilling deep, by depth in diameters: (from, speed, feed).
/// Source: two copies of one machining guide (−10/−10 % at 3 d, −20/−10 at 4 d,
/// −30/−20 at 5 d, −35/−20 at 6 d and more).
const DEEP: [(f64, f64, f64); 4] = [
    (6.0, 0.65, 0.8),
    (5.0, 0.7, 0.8),
    (4.0, 0.8, 0.9),
    (3.0, 0.9, 0.9),
];

/// Sets for a tool; `None` where the tables have no row for the metal.
///
/// `share` is a factor on the tables' cutting speed (1 = as it stands).
fn conditions(
    metal: &str,
    cut: Cut,
    dia: f64,
    workshop: &Workshop,
    share: f64,
) -> Option<Conditions> {
    let work = match cut {
        Cut::Milling => Work::Milling,
        Cut::Reaming => Work::Boring,
        _ => Work::Drilling,
    };
    on(work, metal, cut, dia, workshop, share)
}

/// The same on the machine for a kind of work.
fn on(
    work: Work,
    metal: &str,
    cut: Cut,
    dia: f64,
    workshop: &Workshop,
    share: f64,
) -> Option<Conditions> {
    let tool = match cut {
        Cut::Milling => workshop.cutters,
        _ => ToolMaterial::Hss,
    };
    let data = cutting(material(metal)?, cut, tool)?;
    let c = at(workshop, work, &data, share, dia);
    let feed = data.feed(dia)?;
    Some(Conditions {
        feed: match cut {
            Cut::Milling => table_feed(feed, TEETH, c.rpm),
            _ => drill_feed(feed, c.rpm),
        },
        ..c
    })
}

/// The speed to set, feed still open.
fn at(workshop: &Workshop, work: Work, data: &CuttingData, share: f64, dia: f64) -> Conditions {
    let wanted = [data.speed_low, data.speed_high].map(|v| spindle_speed(v * share, dia));
    let middle = 0.5 * (wanted[0] + wanted[1]);
    let spindle = workshop.spindle(work);
    Conditions {
        machine: spindle.machine,
        rpm: spindle.turn(middle),
        wanted,
        feed: 0.0,
        limited: middle > spindle.fastest() * 1.001,
    }
}

/// Feed of a turning tool, mm per turn (common practice, no source).
const TURNING_FEED: f64 = 0.1;

/// Turning at a diameter, mm: at the speed of an HSS end mill in the same metal (common
/// practice, no source).
pub fn turning(metal: &str, dia: f64, workshop: &Workshop) -> Option<Conditions> {
    let data = cutting(material(metal)?, Cut::Milling, ToolMaterial::Hss)?;
    let c = at(workshop, Work::Turning, &data, 1.0, dia);
    Some(Conditions {
        feed: drill_feed(TURNING_FEED, c.rpm),
        ..c
    })
}

/// Drilling to a depth, mm.
pub fn drilling(metal: &str, dia: f64, depth: f64, workshop: &Workshop) -> Option<Conditions> {
    drilling_on(Work::Drilling, metal, dia, depth, workshop)
}

/// Drilling on the machine for a kind of work: dowel holes on the one that holds their place best.
pub fn drilling_on(
    work: Work,
    metal: &str,
    dia: f64,
    depth: f64,
    workshop: &Workshop,
) -> Option<Conditions> {
    let factors = DEEP.iter().find(|d| depth >= d.0 * dia);
    let (speed, feed) = factors.map_or((1.0, 1.0), |f| (f.1, f.2));
    let mut c = on(work, metal, Cut::Drilling, dia, workshop, speed)?;
    c.feed *= feed;
    Some(c)
}

/// Reaming.
pub fn reaming(metal: &str, dia: f64, workshop: &Workshop) -> Option<Conditions> {
    conditions(metal, Cut::Reaming, dia, workshop, 1.0)
}

/// Counterboring and countersinking: a third of the drilling speed, so that it does not
/// chatter (common practice, no source).
pub fn sinking(metal: &str, dia: f64, workshop: &Workshop) -> Option<Conditions> {
    conditions(metal, Cut::Drilling, dia, workshop, 1.0 / 3.0)
}

/// Counterboring: as countersinking, on the machine that holds its place best.
pub fn counterboring(metal: &str, dia: f64, workshop: &Workshop) -> Option<Conditions> {
    on(Work::Boring, metal, Cut::Drilling, dia, workshop, 1.0 / 3.0)
}

/// Milling: in the full slot (rough) slower by the tables' factor.
pub fn milling(metal: &str, dia: f64, full_slot: bool, workshop: &Workshop) -> Option<Conditions> {
    let share = match (full_slot, slotting()) {
        (true, Some(s)) => s.speed_factor,
        _ => 1.0,
    };
    conditions(metal, Cut::Milling, dia, workshop, share)
}

/// How a depth is drilled: in one pass, or with pecks.
pub fn pecks(dia: f64, depth: f64) -> String {
    if depth <= PASS_DEPTH * dia {
        return "in one pass".to_owned();
    }
    let whole = |v: f64| {
        if v >= 2.0 {
            v.round()
        } else {
            (v * 2.0).round() / 2.0
        }
    };
    format!(
        "pecks: first {}, then every {} clear the chips",
        shown::size(whole(2.0 * dia)),
        shown::size(whole(dia))
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::Decisions;
    use crate::spec::job::ShopSection;

    fn shop(max: f64) -> Workshop {
        let section = ShopSection {
            spindle_max: Some(crate::base::Given::of(max)),
            ..ShopSection::default()
        };
        Workshop::decide(
            &section,
            crate::base::System::Metric,
            &mut Decisions::default(),
        )
    }

    #[test]
    fn drilling_steel_as_the_formula_says() {
        // S235, HSS 24–34 m/min: middle 29. n = 1000·29/(π·10) = 923 → 920.
        let c = drilling("S235", 10.0, 20.0, &shop(3000.0)).expect("a row");
        assert_eq!(c.rpm, 920.0);
        assert!(!c.limited);
        // Feed between 0.125 at 6 mm and 0.25 at 13 mm: 0.1964 mm/rev at 10 mm.
        assert!(
            (c.feed - 920.0 * (0.125 + 0.125 * 4.0 / 7.0)).abs() < 1e-6,
            "{}",
            c.feed
        );
        // Five diameters deep: −30 % speed, −20 % feed per turn.
        let deep = drilling("S235", 10.0, 50.0, &shop(3000.0)).expect("a row");
        assert_eq!(deep.rpm, 650.0);
        assert!((deep.feed / deep.rpm / (c.feed / c.rpm) - 0.8).abs() < 1e-9);
    }

    #[test]
    fn a_slow_spindle_limits_the_speed_and_the_feed_with_it() {
        let fast = milling("6082", 3.0, false, &shop(30_000.0)).expect("a row");
        let slow = milling("6082", 3.0, false, &shop(1000.0)).expect("a row");
        assert!(slow.limited && !fast.limited && slow.rpm == 1000.0);
        assert!((fast.feed / fast.rpm - slow.feed / slow.rpm).abs() < 1e-9);
        // Two teeth at 0.03 mm (aluminium, HSS, 3 mm).
        assert!((slow.feed - 60.0).abs() < 1e-9);
        // In the slot 40 % slower.
        let slot = milling("6082", 3.0, true, &shop(30_000.0)).expect("a row");
        assert!((slot.rpm / fast.rpm - 0.6).abs() < 0.01);
    }

    #[test]
    fn each_machine_keeps_its_own_speeds() {
        let list = |v: &[f64]| Some(crate::base::Given::of(v.to_vec()));
        let section = ShopSection {
            drill_press_speeds: list(&[500.0, 850.0, 1225.0]),
            mill_speeds: list(&[100.0, 2000.0]),
            ..ShopSection::default()
        };
        let w = Workshop::decide(
            &section,
            crate::base::System::Metric,
            &mut Decisions::default(),
        );
        // As above 923 wanted; the belts give 850 below it: nothing out of range.
        let c = drilling("S235", 10.0, 20.0, &w).expect("a row");
        assert_eq!((c.machine, c.rpm), (Some(Machine::DrillPress), 850.0));
        assert!(!c.limited && c.wanted[0] < 850.0);
        // A countersink of 30 mm in steel wants 103 and cannot go below 500.
        let c = sinking("S235", 30.0, &w).expect("a row");
        assert!(c.rpm == 500.0 && c.wanted[1] < 130.0);
        let c = milling("S235", 3.0, false, &w).expect("a row");
        assert_eq!((c.machine, c.rpm), (Some(Machine::Mill), 2000.0));
        assert!(c.limited);
        assert_eq!(turning("S235", 40.0, &w).expect("a row").machine, None);
    }

    #[test]
    fn metals_without_a_row_give_nothing() {
        assert!(drilling("copper", 5.0, 5.0, &shop(3000.0)).is_none());
        assert!(drilling("no such metal", 5.0, 5.0, &shop(3000.0)).is_none());
    }

    #[test]
    fn deep_holes_are_pecked() {
        assert_eq!(pecks(6.8, 20.0), "in one pass");
        assert_eq!(
            pecks(6.8, 25.0),
            "pecks: first 14 mm, then every 7 mm clear the chips"
        );
    }
}
