//! The typed parameter file. One struct per section; `None` = left out.
//!
//! Input: the sections' tables. Output: a [`Job`]. The sections themselves are
//! in the modules beside this one and found here under one roof.

use super::key::Kind;
use super::learned::Learned;
use super::place::Place;
use super::section::section;
use super::series::SeriesSection;
use super::value::{Value, Word, words};
use serde::Serialize;
use std::sync::Arc;
use toml::Spanned;
use toml::de::DeValue;

pub use super::adaptor::{AdaptorSection, HoleStyle, Pattern};
pub use super::layers::{Build, LayersSection};
pub use super::machine::{
    FittingKind, FittingMetal, FittingShape, Hands, Joint, LocateBy, MachineSection, NozzleEnd,
    NozzleSection, PlasticSection, Sealing, SeatForm,
};
pub use super::mesh::{MeshSpec, MeshUnit, Up};
pub use super::mill::{
    Arcs, ControlledKind, Cycles, MillSection, ProgramLine, ToolChange, ToolKind, ToolSection,
    UnitWords,
};
pub use super::mold::{
    BoltStyle, BoltsSection, CoreStyle, DowelsSection, FeedSection, Lubrication, MoldSection,
    VentsSection,
};
pub use super::part::{EdgeKind, PartSection, PartSide};
pub use super::part_feature::{ArcSide, FeatureKind, FeatureSpec, HoleSpec, TextSize};
pub use super::profile::ProfileSpec;
pub use super::reducer::{Gender, Grip, Outlet, ReducerSection};
pub use super::repeat::{MOST_COPIES, Repeat};
pub use super::shape::{
    CombSpec, DrawingOrigin, DrawingSize, DrawingSpec, GearSpec, OutlineSpec, PathStep,
};
pub use super::shop::{
    Drills, DxfVersion, FillEffort, OutputSection, Projection, ShopMachine, ShopSection, Units,
};
pub use crate::base::Opt;
use crate::base::{Given, System};
pub use crate::data::{PipeFamily, PipeThread};

/// The whole parameter file.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct Job {
    /// `[job]`
    pub job: JobSection,
    /// `[plastic]`
    pub plastic: PlasticSection,
    /// `[machine]`
    pub machine: MachineSection,
    /// `[nozzle]`
    pub nozzle: NozzleSection,
    /// `[part]`: required for a mold.
    pub part: Option<PartSection>,
    /// `[mold]`
    pub mold: MoldSection,
    /// `[feed]`
    pub feed: FeedSection,
    /// `[vents]`
    pub vents: VentsSection,
    /// `[bolts]`
    pub bolts: BoltsSection,
    /// `[dowels]`
    pub dowels: DowelsSection,
    /// `[adaptor]`
    pub adaptor: AdaptorSection,
    /// `[reducer]`
    pub reducer: ReducerSection,
    /// `[shop]`
    pub shop: ShopSection,
    /// `[output]`
    pub output: OutputSection,
    /// `[series]`: left out for a single package.
    pub series: Option<SeriesSection>,
    /// The text it was read from (for the revision and for diagnostics of later stages).
    #[serde(skip)]
    pub source: String,
    /// Files that it names, in order of place.
    #[serde(skip)]
    pub file_names: Vec<Given<String>>,
    /// Their bytes, once [`Job::attach`] has read them.
    #[serde(skip)]
    pub attached: super::attached::Attached,
    /// The grade that `plastic.grade` names, once it was read.
    #[serde(skip)]
    pub grade: Option<Arc<Learned>>,
    /// What the shots of this mold taught. Its metal is cut: sizes are decided without it.
    #[serde(skip)]
    pub learned: Option<Arc<Learned>>,
}

impl Job {
    /// The units of everything that people read.
    pub fn system(&self) -> System {
        let units = self.output.units.as_ref().map(|u| u.value);
        units.unwrap_or_default().system()
    }
    /// The units that screws, pins, plates and cutters are bought by.
    pub fn sold(&self) -> System {
        let stock = self.shop.stock.as_ref().map(|u| u.value.system());
        stock.unwrap_or_else(|| self.system())
    }
    /// How views are arranged: third-angle is usual where inches are.
    pub fn projection(&self) -> Projection {
        let usual = match self.system() {
            System::Metric => Projection::FirstAngle,
            System::Inch => Projection::ThirdAngle,
        };
        self.output.projection.as_ref().map_or(usual, |p| p.value)
    }
}

/// What is to be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum JobKind {
    /// A two-plate mold.
    #[default]
    Mold,
    /// A nozzle adaptor plate, no part.
    Adaptor,
    /// A turned adaptor with two ends, no part.
    Reducer,
}
words!(JobKind { "mold" => JobKind::Mold, "adaptor" => JobKind::Adaptor, "reducer" => JobKind::Reducer });

/// How what the file leaves open is decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
pub enum Deciding {
    /// The cheapest that passes the checks.
    #[default]
    #[serde(rename = "by check")]
    ByCheck,
    /// As the rules alone say, one after the other.
    #[serde(rename = "by rule")]
    ByRule,
}
words!(Deciding { "by check" => Deciding::ByCheck, "by rule" => Deciding::ByRule });

section! {
    /// `[job]`
    pub struct JobSection, "job", "What is made, and what stands in the title block.";
    /// Folder name of the package: lower-case letters, digits, hyphens.
    name: String = Kind::Name(40), "the parameter file's name", "\"coaster\"";
    /// Title for drawings.
    title: String = Kind::Text(80), "the name", "\"Coaster with waves\"";
    /// mold (a two-plate mold), adaptor (a nozzle adaptor plate, no part) or reducer (a turned piece between nozzle and mold, no part).
    kind: JobKind = Kind::Word(<JobKind as Word>::NAMES), "mold", "\"mold\"";
    /// How what the file leaves open is decided: by check (the cheapest that passes the checks) or by rule (as the rules alone say; the same checks judge it).
    decide: Deciding = Kind::Word(<Deciding as Word>::NAMES), "by check", "\"by rule\"";
    /// Legal owner, for the title block.
    owner: String = Kind::Text(80), "left blank", "\"Saltmarsh Repair Shed\"";
    /// Who drew it, for the title block.
    author: String = Kind::Text(80), "left blank", "\"The Thursday crew\"";
}

macro_rules! tables {
    ($($name:ident),* $(,)?) => {$(
        impl Value for $name {
            fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
                at.table(value, Self::SECTION).map(|t| Self::read(&t))
            }
        }
    )*};
}
tables!(
    JobSection,
    PlasticSection,
    MachineSection,
    NozzleSection,
    MoldSection,
    LayersSection,
    FeedSection,
    VentsSection,
    BoltsSection,
    DowelsSection,
    AdaptorSection,
    ReducerSection,
    ShopSection,
    OutputSection,
    SeriesSection,
);

section! {
    /// The sections of the file.
    pub struct FileKeys, "", "The parameter file of a small two-plate injection mold, a nozzle adaptor plate or a turned adaptor.";
    /// What is made, and what stands in the title block.
    job: JobSection = Kind::Table(JobSection::SECTION), "all by rule", "{ name = \"coaster\" }";
    /// What is molded.
    plastic: PlasticSection = Kind::Table(PlasticSection::SECTION), "all by rule", "{ kind = \"PP\" }";
    /// The hand-lever injection machine.
    machine: MachineSection = Kind::Table(MachineSection::SECTION), "all by rule", "{ barrel_bore = 26 }";
    /// The machine's nozzle and how it joins the mold.
    nozzle: NozzleSection = Kind::Table(NozzleSection::SECTION), "all by rule", "{ thread = \"G 1/2\" }";
    /// The molded part.
    part: PartSection = Kind::Table(super::part::PartKeys::SECTION), "needed for a mold", "{ thickness = 4, outline = { shape = \"circle\", diameter = 90 } }";
    /// The two plates.
    mold: MoldSection = Kind::Table(MoldSection::SECTION), "all by rule", "{ cavities = 1 }";
    /// Sprue, runner, gate.
    feed: FeedSection = Kind::Table(FeedSection::SECTION), "all by rule", "{ direct = true }";
    /// Ways for the air.
    vents: VentsSection = Kind::Table(VentsSection::SECTION), "all by rule", "{ count = 4 }";
    /// The screws.
    bolts: BoltsSection = Kind::Table(BoltsSection::SECTION), "all by rule", "{ size = \"M8\" }";
    /// The pins.
    dowels: DowelsSection = Kind::Table(DowelsSection::SECTION), "all by rule", "{ diameter = 6 }";
    /// A nozzle adaptor plate.
    adaptor: AdaptorSection = Kind::Table(AdaptorSection::SECTION), "needed for an adaptor", "{ pattern = { pattern = \"circle\", count = 4, diameter = 60 } }";
    /// A turned adaptor with two ends.
    reducer: ReducerSection = Kind::Table(ReducerSection::SECTION), "needed for a reducer", "{ outlet = { end = \"male\", thread = \"G 3/4\" } }";
    /// Tools and machines at hand.
    shop: ShopSection = Kind::Table(ShopSection::SECTION), "all by rule", "{ end_mills = [3, 6] }";
    /// How files are written.
    output: OutputSection = Kind::Table(OutputSection::SECTION), "all by rule", "{ chord_tolerance = 0.02 }";
    /// The same file several times, with other values.
    series: SeriesSection = Kind::Table(SeriesSection::SECTION), "a single package", "{ keys = [\"part.thickness\"], rows = [\"3\", \"4\"] }";
}
