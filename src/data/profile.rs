//! Laser, plasma, waterjet and oxyfuel cutting of plate: kerf, smallest hole and web.
//!
//! Input: a process and a plate thickness. Output: limits in mm, with source.
//! Does not compensate outlines: that is `write`.

use super::cited::{Confidence, Range, Sourced, built_in};
use serde::{Deserialize, Serialize};

/// A rule of the cutting services.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProfileRow {
    /// laser, plasma, …
    pub process: String,
    /// What the rule is about.
    pub item: String,
    /// Lower number, where the rule is one.
    pub low: Option<f64>,
    /// Upper number.
    pub high: Option<f64>,
    /// "mm" or "x t" (plate thicknesses).
    pub unit: String,
    /// The rule as the source words it.
    pub value: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Rules of profile cutting.
    profile_rows: ProfileRow = "profile-cutting"
);

/// How a plate is cut out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Process {
    /// Fibre laser.
    Laser,
    /// Plasma.
    Plasma,
    /// Abrasive waterjet.
    Waterjet,
    /// Oxyfuel.
    Oxyfuel,
}

impl crate::base::decision::Written for Process {
    fn written(&self) -> Option<String> {
        Some(format!("\"{}\"", self.word()))
    }
}

impl Process {
    /// What is chosen from where there are several, the finest cut first.
    pub const FINEST_FIRST: [Self; 3] = [Process::Laser, Process::Waterjet, Process::Plasma];

    /// The word of the trade, as in `shop.machines`.
    pub fn word(self) -> &'static str {
        match self {
            Process::Laser => "laser",
            Process::Plasma => "plasma",
            Process::Waterjet => "waterjet",
            Process::Oxyfuel => "oxyfuel",
        }
    }
    fn number(self, item: &str, unit: &str) -> Option<Sourced<Range>> {
        let row = profile_rows().iter().find(|r| {
            // "laser (fibre)" is the laser; "laser or plasma" is neither alone.
            let name = r.process.split(" (").next().unwrap_or_default();
            name == self.word() && r.item == item && r.unit == unit
        })?;
        Some(Sourced {
            value: Range::from_cells(row.low, None, row.high)?,
            source: row.source.clone(),
            confidence: row.confidence,
        })
    }
    /// Kerf width, mm.
    pub fn kerf(self) -> Option<Sourced<Range>> {
        self.number("kerf width", "mm")
    }
    /// Smallest hole, mm diameter, in a plate of this thickness (laser: at least 1 mm):
    /// `low` is what services accept, `high` the cautious value.
    pub fn smallest_hole(self, thickness: f64) -> Option<Sourced<Range>> {
        let floor = if self == Process::Laser { 1.0 } else { 0.0 };
        self.number("smallest hole dia", "x t")
            .map(|s| times(s, thickness, floor))
    }
    /// Smallest web or feature, mm (plasma: at least 2 mm).
    pub fn smallest_web(self, thickness: f64) -> Option<Sourced<Range>> {
        let floor = if self == Process::Plasma { 2.0 } else { 0.0 };
        self.number("smallest web", "x t")
            .or_else(|| self.number("smallest feature", "x t"))
            .map(|s| times(s, thickness, floor))
    }
    /// Thickness that services cut of a metal, mm: `low` everywhere, `high` with a strong machine.
    pub fn thickest(self, metal: &str) -> Option<Sourced<Range>> {
        use super::materials::{Group, material};
        let metal = match material(metal)?.group {
            Group::Aluminium => "largest thickness aluminium",
            Group::MildSteel => "largest thickness steel",
            _ => return None,
        };
        self.number(metal, "mm")
    }
    /// Class of ISO 9013 usually met: laser 1, plasma and oxyfuel 2; waterjet is not a
    /// thermal cut. Source: modulusmetal.com.
    pub fn iso9013_class(self) -> Option<u8> {
        match self {
            Process::Laser => Some(1),
            Process::Plasma | Process::Oxyfuel => Some(2),
            Process::Waterjet => None,
        }
    }
}

fn times(s: Sourced<Range>, thickness: f64, floor: f64) -> Sourced<Range> {
    let v = s.value.scaled(thickness);
    Sourced {
        value: Range {
            low: v.low.max(floor),
            typical: v.typical.max(floor),
            high: v.high.max(floor),
        },
        ..s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_agree_with_the_words() {
        for r in profile_rows() {
            for n in [r.low, r.high]
                .into_iter()
                .flatten()
                .filter(|_| r.unit == "mm")
            {
                let text = format!("{n}");
                assert!(
                    r.value.contains(&text),
                    "{} {}: {n} not in {}",
                    r.process,
                    r.item,
                    r.value
                );
            }
        }
    }

    #[test]
    fn limits_by_process() {
        assert_eq!(Process::Laser.kerf().unwrap().value.low, 0.1);
        assert_eq!(Process::Waterjet.kerf().unwrap().value.high, 1.2);
        assert!(Process::Oxyfuel.kerf().unwrap().confidence.is_weak());
        assert_eq!(Process::Laser.smallest_hole(8.0).unwrap().value.low, 8.0);
        assert_eq!(Process::Laser.smallest_hole(0.5).unwrap().value.low, 1.0);
        assert_eq!(Process::Plasma.smallest_hole(10.0).unwrap().value.low, 15.0);
        assert_eq!(Process::Plasma.smallest_web(1.0).unwrap().value.low, 2.0);
        assert_eq!(Process::Laser.smallest_web(6.0).unwrap().value.low, 6.0);
        assert!(Process::Waterjet.smallest_hole(6.0).is_none());
        let class = profile_rows()
            .iter()
            .find(|r| r.item.contains("ISO 9013"))
            .unwrap();
        assert_eq!(class.value, "laser 1, plasma 2, oxyfuel 2");
    }
}
