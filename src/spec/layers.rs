//! `[mold.layers]`: a mold of profile-cut sheets between two closing plates.
//!
//! Input: its table. Output: the typed section. Decides nothing.

use super::key::{Kind, length};
use super::place::Place;
use super::section::section;
use super::stock::PLATE_MATERIALS;
use super::value::{Value, Word, word, words};
use crate::base::Length;
use crate::data::profile::Process;
use serde::Serialize;
use toml::Spanned;
use toml::de::DeValue;

/// Services that cut sheets; words of `shop.machines` too.
impl Word for Process {
    const WORDS: &'static [(&'static str, Self)] = &[
        ("laser", Process::Laser),
        ("waterjet", Process::Waterjet),
        ("plasma", Process::Plasma),
    ];
    const NAMES: &'static [&'static str] = &["laser", "waterjet", "plasma"];
}

impl Value for Process {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        word(at, value)
    }
}

/// How the mold's body is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum Build {
    /// The cavity is milled into the two plates.
    #[default]
    Milled,
    /// The cavity is cut right through sheets that two closing plates clamp between them.
    Layered,
}
words!(Build { "milled" => Build::Milled, "layered" => Build::Layered });

section! {
    /// `[mold.layers]`
    pub struct LayersSection, "mold.layers", "The sheets of a layered mold: the cavity is cut right through them.";
    /// Thickness of each sheet, from the nozzle side down; together they are as thick as the cavity.
    sheets: Vec<Length> = Kind::Lengths { min: 0.5, max: 25.0 }, "stock sheets nearest to the part's thickness, as few as will do", "[3]";
    /// Metal of the sheets: 5083, 6061, 6082 or 7075 (aluminium), S235, S275, A36 or 1018 (steel).
    material: String = Kind::Material(PLATE_MATERIALS), "as the closing plates", "\"S235\"";
    /// Service that cuts them: laser, waterjet or plasma.
    cut: Process = Kind::Word(<Process as Word>::NAMES), "the finest in shop.machines, else laser", "\"laser\"";
    /// How far each sheet's opening is smaller all around than that of the sheet above it: the draft of a layered mold.
    step: Length = length(0.0, 5.0), "sheet thickness × tan(draft), at least the cut's tolerance", "0.2";
}
