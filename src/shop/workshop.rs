//! What the workshop has: machines with their spindles, cutters.
//!
//! Input: the `[shop]` section. Output: a [`Workshop`] with every value decided and recorded.

use super::spindle::{self, Machine, Spindle, Work};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::units::number;
use crate::base::{Decisions, System};
use crate::data::cutting::{ToolMaterial, sold_end_mills};
use crate::data::drills;
use crate::spec::job::{Drills, ShopMachine, ShopSection};

/// The workshop with every value decided.
#[derive(Debug, Clone, PartialEq)]
pub struct Workshop {
    /// Spindles of the machines at hand; the last one stands for machines that are not.
    spindles: Vec<Spindle>,
    /// End mills at hand, mm, ascending.
    pub end_mills: Vec<f64>,
    /// Ball end mills at hand, mm, ascending.
    pub ball_mills: Vec<f64>,
    /// Drills at hand, mm, ascending; empty: any stock size.
    pub drills: Vec<f64>,
    /// Reamers at hand, mm, ascending; empty: any.
    pub reamers: Vec<f64>,
    /// Metric taps at hand, mm, ascending; empty: any.
    pub taps: Vec<f64>,
    /// Sheets that the cutting service cuts from: width and height, mm.
    pub sheet: Option<(f64, f64)>,
    /// What the end mills are made of.
    pub cutters: ToolMaterial,
    /// Units of what is bought.
    pub sold: System,
    /// Machines, as written in the file.
    pub machines: Vec<ShopMachine>,
    /// The piece turns: what is drilled and bored is drilled and bored on the lathe.
    turned: bool,
}

impl Workshop {
    /// Decides what is left open; `sold`: the units of what is bought.
    pub fn decide(section: &ShopSection, sold: System, decisions: &mut Decisions) -> Self {
        let practice = "common practice, no source";
        let rpm = |v: &f64| format!("{} 1/min", number(*v));
        let machines = decisions.decide(
            ShopSection::machines,
            section.machines.as_ref(),
            |m| ShopMachine::list(m),
            || {
                let m = vec![ShopMachine::DrillPress, ShopMachine::Mill];
                (m, Rule::new("a drill press and a small mill", practice))
            },
        );
        let spindle_max = decisions.decide(
            ShopSection::spindle_max,
            section.spindle_max.as_ref(),
            rpm,
            || {
                (
                    3000.0,
                    Rule::new(
                        "fastest step of a usual bench drill or small mill",
                        practice,
                    ),
                )
            },
        );
        let spindle_min = decisions.decide(
            ShopSection::spindle_min,
            section.spindle_min.as_ref(),
            rpm,
            || {
                (
                    f64::min(300.0, spindle_max),
                    Rule::new("slowest step of a usual bench drill", practice),
                )
            },
        );
        let list = |v: &Vec<crate::base::Length>| {
            let all: Vec<String> = v.iter().map(|l| shown::tool_size(l.mm())).collect();
            format!("{} {}", all.join(", "), shown::Kind::Length.unit())
        };
        let stock = || -> (Vec<crate::base::Length>, Rule) {
            let all = sold_end_mills(sold)
                .iter()
                .map(|m| crate::base::Length::from_mm(m.dia_mm))
                .collect();
            (
                all,
                Rule::new("the built-in list of stock end mills", practice),
            )
        };
        let sorted = |v: Vec<crate::base::Length>| {
            let mut v: Vec<f64> = v.iter().map(|l| l.mm()).collect();
            v.sort_by(f64::total_cmp);
            v
        };
        let flat = decisions.decide(
            ShopSection::end_mills,
            section.end_mills.as_ref(),
            list,
            stock,
        );
        let ball = decisions.decide(
            ShopSection::ball_mills,
            section.ball_mills.as_ref(),
            list,
            stock,
        );
        let shelf = |v: &Vec<crate::base::Length>| {
            if v.is_empty() {
                "any stock size".to_owned()
            } else {
                list(v)
            }
        };
        let any = || -> (Vec<crate::base::Length>, Rule) {
            let rule = Rule::new(
                "drills, reamers and taps are bought as they are needed",
                practice,
            );
            (Vec::new(), rule)
        };
        let drills = decisions.decide(
            ShopSection::drills,
            section.drills.as_ref(),
            |d| match d {
                Drills::Listed(list) => shelf(list),
                Drills::Sold(units) => format!("every {} size that is sold", units.word()),
            },
            || {
                let (none, rule) = any();
                (Drills::Listed(none), rule)
            },
        );
        let drills = match drills {
            Drills::Listed(list) => sorted(list),
            Drills::Sold(units) => drills::sold(units.system()),
        };
        let reamers = decisions.decide(ShopSection::reamers, section.reamers.as_ref(), shelf, any);
        let taps = decisions.decide(ShopSection::taps, section.taps.as_ref(), shelf, any);
        let cutters = decisions.decide(
            ShopSection::cutter_material,
            section.cutter_material.as_ref(),
            |t| t.word().to_owned(),
            || {
                let rule = Rule::new("tolerant of hand feed and old machines", practice);
                (ToolMaterial::Hss, rule)
            },
        );
        let sheet = section
            .sheet_width
            .as_ref()
            .zip(section.sheet_height.as_ref())
            .map(|(w, h)| {
                let mm = |l: &crate::base::Length| shown::size(l.mm());
                let of = |d: &mut Decisions, key, given| {
                    d.decide(key, Some(given), mm, || {
                        (given.value, Rule::new("", practice))
                    })
                };
                (
                    of(decisions, ShopSection::sheet_width, w).mm(),
                    of(decisions, ShopSection::sheet_height, h).mm(),
                )
            });
        let general = [spindle_min, spindle_max.max(spindle_min)];
        let spindles = spindle::decide(section, &machines, general, decisions);
        Self {
            spindles,
            end_mills: sorted(flat),
            ball_mills: sorted(ball),
            drills,
            reamers: sorted(reamers),
            taps: sorted(taps),
            sheet,
            sold,
            cutters,
            machines,
            turned: false,
        }
    }

    /// True when one of these is at hand.
    pub fn has(&self, any: &[ShopMachine]) -> bool {
        any.iter().any(|m| self.machines.contains(m))
    }
    /// The largest end mill at hand not above `limit` mm.
    pub fn end_mill(&self, limit: f64) -> Option<f64> {
        largest(&self.end_mills, limit)
    }
    /// A ball end mill at hand of this diameter.
    pub fn has_ball(&self, dia: f64) -> bool {
        self.ball_mills.iter().any(|d| (d - dia).abs() < 1e-6)
    }
    /// The same for a piece that is turned from a bar.
    pub fn of_turned(&self) -> Self {
        Self {
            turned: true,
            ..self.clone()
        }
    }
    /// Spindles of the machines at hand, and one for machines that are not.
    pub fn spindles(&self) -> &[Spindle] {
        &self.spindles
    }
    /// The spindle that does this kind of work.
    pub fn spindle(&self, work: Work) -> &Spindle {
        let of = |m: &Machine| self.spindles.iter().find(|s| s.machine == Some(*m));
        let lathe = (self.turned && work != Work::Milling).then(|| of(&Machine::Lathe));
        let at_hand = lathe
            .flatten()
            .or_else(|| work.machines().iter().find_map(of));
        at_hand.unwrap_or(&self.spindles[self.spindles.len() - 1])
    }
}

fn largest(list: &[f64], limit: f64) -> Option<f64> {
    list.iter().rev().copied().find(|d| *d <= limit + 1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::{Given, Length};

    #[test]
    fn what_the_user_says_is_taken_and_the_rest_decided() {
        let section = ShopSection {
            end_mills: Some(Given::of(vec![Length::from_mm(8.0), Length::from_mm(3.0)])),
            spindle_max: Some(Given::of(1400.0)),
            ..ShopSection::default()
        };
        let mut d = Decisions::default();
        let w = Workshop::decide(&section, crate::base::System::Metric, &mut d);
        assert_eq!(w.end_mills, [3.0, 8.0]);
        assert_eq!((w.end_mill(7.0), w.end_mill(2.0)), (Some(3.0), None));
        let mill = w.spindle(Work::Milling);
        assert_eq!(mill.machine, Some(Machine::Mill));
        assert_eq!((mill.turn(9000.0), mill.turn(10.0)), (1400.0, 300.0));
        assert_eq!(w.spindle(Work::Turning).machine, None);
        assert!(w.has(&[ShopMachine::Mill]) && !w.has(&[ShopMachine::Cnc]));
        assert_eq!(
            d.get("shop.spindle_max").map(|d| d.value.as_str()),
            Some("1400 1/min")
        );
        assert!(d.get("shop.ball_mills").is_some());
    }
}
