//! The sheets of a layered mold: how thick, of what, and how they are cut.
//!
//! Input: values that were decided. Output: [`Layers`] with the limits of the cut. Decides nothing.

use crate::data::Material;
use crate::data::profile::Process;
use crate::data::tolerances;
use crate::design::gate::METAL;

/// The sheets of a layered mold.
#[derive(Debug, Clone)]
pub(in crate::design) struct Layers {
    /// Thickness of each, from the nozzle side down, mm.
    pub sheets: Vec<f64>,
    /// How much smaller each opening is than the one above it, all around, mm.
    pub step: f64,
    /// Their metal.
    pub metal: &'static Material,
    /// How they are cut.
    pub cut: Process,
}

impl Layers {
    /// All sheets together, mm.
    pub(in crate::design) fn height(&self) -> f64 {
        self.sheets.iter().sum()
    }
    /// How deep each sheet's upper face lies, and the lowest face, mm.
    pub(in crate::design) fn levels(&self) -> Vec<f64> {
        let mut at = 0.0;
        let mut all = vec![0.0];
        for t in &self.sheets {
            at += t;
            all.push(at);
        }
        all
    }
    /// Narrowest slot that the service cuts well in a sheet, mm. Without a table row: twice the
    /// widest kerf.
    pub(in crate::design) fn slot(&self, thickness: f64) -> f64 {
        let kerf = self.cut.kerf().map_or(1.0, |k| k.value.high);
        let hole = self.cut.smallest_hole(thickness);
        hole.map_or(2.0 * kerf, |h| h.value.low.max(1.5 * kerf))
    }
    /// Thinnest web that the service leaves standing in a sheet, mm. Without a table row: half
    /// the thickness, 1 mm at least (common practice, no source).
    pub(in crate::design) fn web(&self, thickness: f64) -> f64 {
        let row = self.cut.smallest_web(thickness);
        row.map_or((0.5 * thickness).max(1.0), |w| w.value.low)
    }
    /// Metal that stays between a channel of the first sheet and a cavity, mm.
    pub(in crate::design) fn metal_beside_channels(&self) -> f64 {
        let first = self.sheets.first().copied().unwrap_or(3.0);
        METAL.max(self.web(first))
    }
    /// ± tolerance of the cut, mm: ISO 9013 by the class that the service usually meets, for
    /// sizes of 10 to 35 mm; waterjet 0.1 mm (common practice, no source).
    pub(in crate::design) fn tolerance(&self) -> f64 {
        let thickest = self.sheets.iter().copied().fold(0.0, f64::max);
        tolerance(self.cut, thickest)
    }
}

fn tolerance(cut: Process, thickness: f64) -> f64 {
    cut.iso9013_class()
        .and_then(|class| tolerances::thermal_cut(class, thickness, 30.0))
        .unwrap_or(0.1)
}
