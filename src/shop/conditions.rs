//! Spindle speed, feed and pecks of one tool in one metal.
//!
//! Input: the metal, the cut, the tool's diameter, the workshop. Output: numbers to set.
//! Speeds and feeds come from `data::cutting`; n = 1000 v / (π d), limited to the spindle.

use super::workshop::Workshop;
use crate::data::cutting::{Cut, PASS_DEPTH, ToolMaterial, cutting, slotting};
use crate::data::formulae::{drill_feed, spindle_speed, table_feed};
use crate::data::material;

/// What to set on the machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Conditions {
    /// Spindle speed, 1/min, rounded to 10.
    pub rpm: f64,
    /// Feed, mm/min.
    pub feed: f64,
    /// The spindle cannot turn at the speed the tables ask for.
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
/// `share` is a factor on the tables' middle cutting speed (1 = as it stands).
fn conditions(
    metal: &str,
    cut: Cut,
    dia: f64,
    workshop: &Workshop,
    share: f64,
) -> Option<Conditions> {
    let tool = if cut == Cut::Milling {
        workshop.cutters
    } else {
        ToolMaterial::Hss
    };
    let data = cutting(material(metal)?, cut, tool)?;
    let v = 0.5 * (data.speed_low + data.speed_high) * share;
    let wanted = spindle_speed(v, dia);
    let rpm = (workshop.turn(wanted) / 10.0).round() * 10.0;
    let feed = data.feed(dia)?;
    Some(Conditions {
        rpm,
        feed: match cut {
            Cut::Milling => table_feed(feed, TEETH, rpm),
            _ => drill_feed(feed, rpm),
        },
        limited: wanted > workshop.spindle_max * 1.001,
    })
}

/// Drilling to a depth, mm.
pub fn drilling(metal: &str, dia: f64, depth: f64, workshop: &Workshop) -> Option<Conditions> {
    let factors = DEEP.iter().find(|d| depth >= d.0 * dia);
    let (speed, feed) = factors.map_or((1.0, 1.0), |f| (f.1, f.2));
    let mut c = conditions(metal, Cut::Drilling, dia, workshop, speed)?;
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
        "pecks: first {} mm, then every {} mm clear the chips",
        crate::base::units::number(whole(2.0 * dia)),
        crate::base::units::number(whole(dia))
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
        Workshop::decide(&section, &mut Decisions::default())
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
