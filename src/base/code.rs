//! The codes of all findings: one list.
//!
//! Input: nothing. Output: [`Code`] with its levels, its usual place and its meaning. The text of
//! a code is made here and nowhere read back. A code never changes its meaning.

use super::finding::Level::{self, Note, Stop, Warn};
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

macro_rules! codes {
    ($($(#[doc = $doc:literal])+ $name:ident = $text:literal, [$($level:ident),+], $at:literal;)*) => {
        /// What a check found; `tests/findings` has a parameter file for each.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Code {
            $($(#[doc = $doc])+ $name,)*
        }

        impl Code {
            /// Every code.
            pub const ALL: &'static [Code] = &[$(Code::$name,)*];

            /// The code as every output has it.
            pub const fn as_str(self) -> &'static str {
                match self { $(Code::$name => $text,)* }
            }
            /// The levels that it comes with.
            pub const fn levels(self) -> &'static [Level] {
                match self { $(Code::$name => &[$($level),+],)* }
            }
            /// Where it points: a key or section of the file, or what of the mold.
            pub const fn at(self) -> &'static str {
                match self { $(Code::$name => $at,)* }
            }
            /// What it says, one sentence.
            pub const fn meaning(self) -> &'static str {
                match self { $(Code::$name => concat!($($doc),+).trim_ascii(),)* }
            }
        }
    };
}

codes! {
    /// The plastic's tables lack what the fill or the hold needs.
    ProcessIncomplete = "process-incomplete", [Warn], "plastic";
    /// No setting explains all records of the first shots within their accuracy.
    ShotsNotExplained = "shots-not-explained", [Warn], "plastic";
    /// Records of first shots are of a mold made from another revision of the file.
    ShotsOfOtherRevision = "shots-of-other-revision", [Note], "plastic";
    /// The network of the fill is not one piece.
    FillNotJoined = "fill-not-joined", [Stop], "feed.at";
    /// Walls along the draw direction are filled by a formula.
    WallsAlongPull = "walls-along-pull", [Warn], "part";
    /// The fill of a part without a grid of cells is told by a formula.
    FillByFormula = "fill-by-formula", [Warn, Note], "part.profile";
    /// The melt's force on the projected outline comes near the screws' clamping force.
    MoldOpens = "mold-opens", [Stop, Warn], "bolts";
    /// Screw heads press harder on the plate than its metal carries.
    HeadsPressIn = "heads-press-in", [Stop], "bolts.washers";
    /// A screw is loaded beyond its proof load.
    ScrewOverloaded = "screw-overloaded", [Stop], "bolts";
    /// The plates bow by more than flash needs.
    PlatesBow = "plates-bow", [Stop, Warn], "mold.thickness_a";
    /// A plate is thick for the theory that its bow comes from.
    PlateThickForTheory = "plate-thick-for-theory", [Note], "a plate";
    /// The nozzle's joint does not hold the machine's thrust.
    NozzleJointWeak = "nozzle-joint-weak", [Stop], "nozzle";
    /// A part of the cavity cannot be reached from the gate.
    CavityCutOff = "cavity-cut-off", [Stop], "part";
    /// The typical grade does not fill the cavity.
    ShortShot = "short-shot", [Stop], "machine.pressure";
    /// A stiff grade of the plastic does not fill the cavity.
    ShortShotStiffGrade = "short-shot-stiff-grade", [Warn], "plastic.melt_flow";
    /// The pressure at hand is little more than the fill needs.
    FillMarginSmall = "fill-margin-small", [Warn], "machine.pressure";
    /// Air is closed in where no vent can be.
    AirTrap = "air-trap", [Warn], "a place in the mold";
    /// Two fronts meet.
    WeldLine = "weld-line", [Warn, Note], "a place in the mold";
    /// The lever asks for more than a person pushes for long.
    HandForceHigh = "hand-force-high", [Warn], "machine.lever_ratio";
    /// The shot is larger than the plunger gives.
    ShotTooLarge = "shot-too-large", [Stop], "machine.stroke";
    /// The shot leaves no cushion in the barrel.
    ShotWithoutCushion = "shot-without-cushion", [Warn], "machine.stroke";
    /// The part does not cool to where it can be taken out.
    NeverCools = "never-cools", [Stop], "plastic.mold_temperature";
    /// The mold gets warmer from shot to shot.
    MoldWarmsUp = "mold-warms-up", [Warn, Note], "mold";
    /// The melt stays hot for long before it is molded.
    MeltWaitsLong = "melt-waits-long", [Warn, Note], "machine";
    /// The sprue has little or no taper.
    SprueSticks = "sprue-sticks", [Stop, Warn], "feed.sprue_taper";
    /// The part shrinks on to its core.
    PartGrips = "part-grips", [Warn, Note], "part";
    /// The feed freezes before the part's thick places are full.
    SinksOrVoids = "sinks-or-voids", [Warn, Note], "where the feed freezes";
    /// Corners of the outline were rounded for the cutter.
    CornersRounded = "corners-rounded", [Note], "part.round";
    /// Corners of the outline could not be rounded.
    CornersLeftSharp = "corners-left-sharp", [Warn], "part.round";
    /// The adaptor's screws are weak for the machine's thrust.
    AdaptorScrewsWeak = "adaptor-screws-weak", [Stop, Warn], "adaptor.pattern";
    /// Walls have little draft for their height.
    LittleDraft = "little-draft", [Stop, Warn], "part.draft";
    /// A hole lies near the plate's edge.
    HoleNearEdge = "hole-near-edge", [Stop, Warn], "a feature";
    /// Two openings of a plate lie near each other.
    HolesClose = "holes-close", [Stop, Warn], "a feature";
    /// A hole is deep for its drill.
    DeepHole = "deep-hole", [Warn, Note], "a feature";
    /// A groove is narrower than the smallest cutter.
    StrokeNarrowerThanCutter = "stroke-narrower-than-cutter", [Warn], "a feature";
    /// An inside corner is deep for the cutter that fits it.
    DeepCorner = "deep-corner", [Warn, Note], "a feature";
    /// An inside corner is sharper than any cutter.
    CornerSharperThanCutter = "corner-sharper-than-cutter", [Stop, Warn], "a feature";
    /// A thread holds on few turns.
    ThreadEngagementShort = "thread-engagement-short", [Stop, Warn], "bolts";
    /// A screw's length is not a usual one.
    ScrewNotInTables = "screw-not-in-tables", [Note], "bolts";
    /// The gate is deeper than the part is thick.
    GateDeeperThanPart = "gate-deeper-than-part", [Warn], "feed.gate_depth";
    /// The sprue stands beside the part and fills it through a gate.
    GateAtEdge = "gate-at-edge", [Note], "feed.at";
    /// Not every vent found a place.
    FewerVents = "fewer-vents", [Warn, Note], "vents";
    /// Not every pry slot found a place.
    FewerPrySlots = "fewer-pry-slots", [Note], "mold.pry_slots";
    /// What was read from a drawing.
    DrawingRead = "drawing-read", [Note], "a key that names a drawing";
    /// Loose ends of a drawing were joined.
    DrawingJoined = "drawing-joined", [Note], "a key that names a drawing";
    /// The wall's thickness varies much.
    WallUneven = "wall-uneven", [Note], "part";
    /// Given screws do not clamp enough.
    BoltsTooWeak = "bolts-too-weak", [Stop, Warn], "bolts";
    /// A part of the sprue's foot ends on metal.
    SprueHalfOnPart = "sprue-half-on-part", [Warn], "feed.at";
    /// The sprue's foot opens on metal.
    SprueMissesCavity = "sprue-misses-cavity", [Stop], "feed.at";
    /// A gate does not open into the cavity.
    GateMissesCavity = "gate-misses-cavity", [Stop], "feed.at";
    /// A channel cuts into a cavity.
    FeedCutsCavity = "feed-cuts-cavity", [Stop], "feed.at";
    /// Little metal is left between channel and cavity.
    FeedWallThin = "feed-wall-thin", [Stop], "feed.at";
    /// A channel breaks through its plate.
    FeedThroughPlate = "feed-through-plate", [Stop], "feed";
    /// A given plate is smaller than what it holds.
    PlateTooSmall = "plate-too-small", [Stop], "plates";
    /// The unit of a mesh file was guessed.
    MeshUnitGuessed = "mesh-unit-guessed", [Warn], "part.mesh.unit";
    /// What the file leaves open is as the rules alone say.
    DecidedByRule = "decided-by-rule", [Note], "job.decide";
    /// Small faults of a mesh were repaired.
    MeshMended = "mesh-mended", [Note], "part.mesh.file";
    /// A mesh that leaned a little was laid flat.
    MeshLaidFlat = "mesh-laid-flat", [Note], "part.mesh.up";
    /// A mesh leans against the parting plane.
    MeshTilted = "mesh-tilted", [Warn], "part.mesh.up";
    /// The draw direction of a mesh was chosen.
    MeshTurned = "mesh-turned", [Warn], "part.mesh.up";
    /// The part has undercuts.
    Undercut = "undercut", [Stop], "part.mesh";
    /// Some of the part would need metal of the A plate below the parting plane.
    WrongSideA = "wrong-side-a", [Stop], "mold.parting";
    /// Some of the part would need metal of the B plate above the parting plane.
    WrongSideB = "wrong-side-b", [Stop], "mold.parting";
    /// A wall of a mesh is thin for the melt.
    WallThin = "wall-thin", [Warn], "part.mesh";
    /// An opening is narrower than the service cuts.
    OpeningTooNarrowToCut = "opening-too-narrow-to-cut", [Warn], "a feature";
    /// A web is thinner than the service cuts.
    SheetWebTooThin = "sheet-web-too-thin", [Warn], "a sheet";
    /// Cut walls have no draft.
    WallsCutSquare = "walls-cut-square", [Note], "mold.layers";
    /// The part shows the edge of a plasma cut.
    PlasmaEdgeInTheCavity = "plasma-edge-in-the-cavity", [Warn], "mold.layers.cut";
    /// The part has the tolerance of the cut.
    CutToleranceOnThePart = "cut-tolerance-on-the-part", [Note], "mold.layers.cut";
    /// Sheets as bought are less flat than the mold needs.
    SheetsMustLieFlat = "sheets-must-lie-flat", [Warn, Note], "mold.layers";
    /// The melt spreads a sheet's frame.
    FrameSpreads = "frame-spreads", [Warn, Note], "mold.wall";
    /// A hole has the size of a stock pin.
    HoleFollowsPin = "hole-follows-pin", [Note], "part.hole";
    /// The part's thickness follows stock sheets.
    ThicknessBySheets = "thickness-by-sheets", [Warn, Note], "part.thickness";
    /// The fitting or its plate is no plain steel.
    WeldNeedsSteel = "weld-needs-steel", [Stop], "nozzle";
    /// Cautions for welding.
    WeldFumes = "weld-fumes", [Warn], "nozzle";
    /// The weld's throat is small for the thrust.
    WeldThroatSmall = "weld-throat-small", [Warn], "nozzle";
    /// The weld's leg is large for the fitting's wall.
    WeldLegOverWall = "weld-leg-over-wall", [Stop, Warn], "nozzle";
    /// A taper reamer was asked for where the thread is parallel.
    ReamerForParallelThread = "reamer-for-parallel-thread", [Note], "nozzle.taper_reamed";
    /// The nozzle's thread holds on few turns.
    NozzleEngagementShort = "nozzle-engagement-short", [Stop, Warn], "nozzle";
    /// The nozzle's end meets the floor before the thread is tight.
    NozzleBottoms = "nozzle-bottoms", [Stop], "nozzle.reach";
    /// Melt stays in a space before the nozzle's end.
    NozzleDeadSpace = "nozzle-dead-space", [Stop, Note], "nozzle.reach";
    /// The nozzle's end is not as bought: it gets a tip, or the plate a groove behind its thread.
    NozzleEndWorked = "nozzle-end-worked", [Stop, Note], "nozzle.end";
    /// Screws that part the plates find no room.
    NoRoomForJacks = "no-room-for-jacks", [Note], "mold.jack_screws";
    /// A bore is smaller than the one before it.
    BoreSmallerThanBefore = "bore-smaller-than-before", [Warn], "a bore on the flow path";
    /// A bore is little wider than the one before it.
    BoreStepSmall = "bore-step-small", [Warn], "a bore on the flow path";
    /// The mold is heavy for hanging on its nozzle.
    MoldHangsHeavy = "mold-hangs-heavy", [Warn], "nozzle";
    /// The mold does not turn freely on the machine.
    SwingTooWide = "swing-too-wide", [Stop], "machine.swing";
    /// The melt freezes in a turned adaptor between shots.
    MeltFreezesOnWay = "melt-freezes-on-way", [Warn, Note], "reducer.length";
    /// Tape does not seal a parallel thread.
    TapeOnParallelThread = "tape-on-parallel-thread", [Stop], "nozzle.sealing";
    /// The melt is hot for PTFE tape.
    TapeTooHot = "tape-too-hot", [Stop, Warn], "nozzle.sealing";
    /// A zinc coating meets heat.
    ZincCoating = "zinc-coating", [Stop, Warn], "nozzle.galvanised";
    /// A fitting's metal is weak, or fails at the melt's heat.
    FittingMetal = "fitting-metal", [Stop, Warn, Note], "nozzle.material";
    /// Aluminium loses its temper near the nozzle.
    AluminiumLosesTemper = "aluminium-loses-temper", [Note], "nozzle";
    /// Little metal is left around the nozzle's bore.
    NozzleWallThin = "nozzle-wall-thin", [Stop, Warn], "nozzle";
    /// A seat leaks unless the nozzle is pressed on it.
    SeatMustBePressed = "seat-must-be-pressed", [Warn], "nozzle";
    /// There is no tapped bore whose thread could be shown.
    NoThreadForm = "no-thread-form", [Note], "output.thread_form";
    /// The flange's screws hardly press its ring.
    FlangeSealWeak = "flange-seal-weak", [Stop, Warn], "nozzle.flange_count";
    /// A G thread seals on a face.
    GThreadSealsOnFace = "g-thread-seals-on-face", [Note], "nozzle";
    /// The true thread was left out of a solid.
    ThreadFormLeftOut = "thread-form-left-out", [Warn], "output.thread_form";
    /// The shot's solid is not one body.
    ShotInPieces = "shot-in-pieces", [Stop], "feed";
    /// An exact solid consists of facets.
    StepFacets = "step-facets", [Note], "part.mesh";
    /// An exact solid was left out.
    StepLeftOut = "step-left-out", [Warn, Note], "output";
    /// A solid is not one body.
    SolidInPieces = "solid-in-pieces", [Stop], "a solid";
    /// A plate is larger than the service's sheet.
    PlateLargerThanSheet = "plate-larger-than-sheet", [Warn], "shop.sheet_width";
    /// A plate is thicker than the service cuts.
    PlateTooThickToCut = "plate-too-thick-to-cut", [Warn], "a plate";
    /// Holes are drilled because the service cannot cut them.
    HolesTooSmallToCut = "holes-too-small-to-cut", [Note], "a plate";
    /// Two openings leave less than the service cuts.
    WebTooThinToCut = "web-too-thin-to-cut", [Warn], "a plate";
    /// Turned work, and no lathe.
    NoLathe = "no-lathe", [Warn], "shop.machines";
    /// No end mill at hand fits.
    CutterMissing = "cutter-missing", [Warn], "a feature";
    /// Cutters leave metal in a corner or a gap.
    CornerLeft = "corner-left", [Warn, Note], "a feature";
    /// No sheet makes the plate.
    SheetUnproved = "sheet-unproved", [Stop], "a plate";
    /// No ball mill at hand fits.
    BallMillMissing = "ball-mill-missing", [Warn], "a feature";
    /// A plate is larger than the travel of the machine that programs are for.
    TravelTooShort = "travel-too-short", [Warn], "a plate";
    /// An operation alone takes longer than the machine may run.
    RunTooLong = "run-too-long", [Warn], "a plate";
    /// Milled work, and no milling machine.
    NoMillingMachine = "no-milling-machine", [Warn], "shop.machines";
    /// Drilled work, and nothing that drills square.
    NoDrillingMachine = "no-drilling-machine", [Warn], "shop.machines";
    /// A welded fitting, and nobody who welds.
    NoWelder = "no-welder", [Note], "shop.machines";
    /// The slowest speed is fast for a tool.
    SpindleTooFast = "spindle-too-fast", [Warn, Note], "shop.drill_press_speeds";
    /// The fastest speed is slow for a tool.
    SpindleTooSlow = "spindle-too-slow", [Note], "shop.drill_press_speeds";
    /// A tool is not at hand.
    ToolMissing = "tool-missing", [Warn], "shop.drills";
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl Serialize for Code {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.as_str())
    }
}

impl<'de> Deserialize<'de> for Code {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        let known = Self::ALL.iter().find(|c| c.as_str() == text);
        known
            .copied()
            .ok_or_else(|| D::Error::custom(format!("no code of a finding: {text}")))
    }
}
