//! The typed parameter file. One struct per section; `None` = left out.

use crate::base::{Angle, Force, Given, Length, Pressure, Ratio, Span, Speed, Temperature, Time};
pub use crate::data::{PipeFamily, PipeThread};
use crate::sketch::Point;
use serde::Serialize;

/// An optional value with its place in the file.
pub type Opt<T> = Option<Given<T>>;

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
    /// `[part]`: required unless `job.kind = "adaptor"`.
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
    /// `[shop]`
    pub shop: ShopSection,
    /// `[output]`
    pub output: OutputSection,
    /// The text it was read from (for the revision and for diagnostics of later stages).
    #[serde(skip)]
    pub source: String,
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
}

/// `[job]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct JobSection {
    /// Folder name of the package: lower-case letters, digits, hyphens.
    pub name: Opt<String>,
    /// Title for drawings.
    pub title: Opt<String>,
    /// Mold or adaptor.
    pub kind: Opt<JobKind>,
    /// Legal owner for the title block.
    pub owner: Opt<String>,
    /// Who drew it, for the title block.
    pub author: Opt<String>,
}

/// `[plastic]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct PlasticSection {
    /// Short name: PP, HDPE, LDPE, PS, HIPS, ABS, PLA, PETG, PA6, TPU. (PVC is refused.)
    pub kind: Opt<String>,
    /// Linear shrinkage; overrides the table.
    pub shrinkage: Opt<Ratio>,
    /// Melt temperature.
    pub melt_temperature: Opt<Temperature>,
    /// Mold temperature at the start.
    pub mold_temperature: Opt<Temperature>,
    /// Melt flow index to ISO 1133, g/10 min (shifts the viscosity).
    pub melt_flow: Opt<f64>,
    /// Load of that test, kg.
    pub melt_flow_load: Opt<f64>,
    /// Temperature of that test.
    pub melt_flow_temperature: Opt<Temperature>,
}

/// `[machine]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct MachineSection {
    /// Barrel bore.
    pub barrel_bore: Opt<Length>,
    /// Plunger stroke.
    pub stroke: Opt<Length>,
    /// Hand force at the lever's end.
    pub hand_force: Opt<Force>,
    /// Lever ratio (hand travel : plunger travel).
    pub lever_ratio: Opt<f64>,
    /// Rack pinion pitch radius, with `lever_length` instead of `lever_ratio`.
    pub pinion_radius: Opt<Length>,
    /// Lever length from the pivot or pinion.
    pub lever_length: Opt<Length>,
    /// Efficiency of the lever and plunger.
    pub efficiency: Opt<Ratio>,
    /// Largest plunger pressure; overrides force × ratio.
    pub pressure: Opt<Pressure>,
    /// Fastest speed of the hand at the lever's end.
    pub hand_speed: Opt<Speed>,
    /// Heater power of the barrel, W.
    pub heater_power: Opt<f64>,
    /// Mass of the heated steel, kg.
    pub heated_mass: Opt<f64>,
    /// Time to refill and melt a new charge.
    pub recharge_time: Opt<Time>,
}

/// How the nozzle joins the mold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum Joint {
    /// Thread tapped into the A plate.
    #[default]
    Tapped,
    /// A stock fitting faced flat and welded on the A plate.
    Welded,
}

/// `[nozzle]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct NozzleSection {
    /// Thread of the machine's nozzle.
    pub thread: Opt<PipeThread>,
    /// How it joins.
    pub joint: Opt<Joint>,
    /// Bore of the nozzle where the melt leaves it.
    pub orifice: Opt<Length>,
    /// Welded fitting: outside diameter of the faced end.
    pub fitting_diameter: Opt<Length>,
    /// Welded fitting: length left after facing.
    pub fitting_length: Opt<Length>,
    /// Weld leg.
    pub weld_leg: Opt<Length>,
}

/// Side of the part: `top` towards the nozzle (A plate), `bottom` away from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum PartSide {
    /// Towards the A plate.
    Top,
    /// Towards the B plate.
    #[default]
    Bottom,
}

/// Edge treatment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum EdgeKind {
    /// 45° chamfer of this leg.
    Chamfer(Length),
    /// Quarter-round of this radius.
    Radius(Length),
}

/// `[part]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct PartSection {
    /// Place of the section header.
    #[serde(skip)]
    pub span: Span,
    /// Thickness of the plate part.
    pub thickness: Opt<Length>,
    /// Wall draft per side about the parting plane.
    pub draft: Opt<Angle>,
    /// Edge of the bottom face (`edge = { chamfer = 1 }` or `{ radius = 1 }`).
    pub edge_bottom: Opt<EdgeKind>,
    /// Edge of the top face.
    pub edge_top: Opt<EdgeKind>,
    /// The outline; required.
    pub outline: Opt<OutlineSpec>,
    /// Through-cut holes of the outline (`[[part.hole]]`): metal cores in the mold.
    pub holes: Vec<Given<HoleSpec>>,
    /// Raised and sunk features (`[[part.feature]]`).
    pub features: Vec<Given<FeatureSpec>>,
}

/// A closed shape: `[part.outline]`, and wherever a shape is asked for.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "shape", rename_all = "lowercase")]
pub enum OutlineSpec {
    /// `shape = "circle"`, `diameter`.
    Circle {
        /// Diameter.
        diameter: Given<Length>,
    },
    /// `shape = "rectangle"`, `width` (x), `height` (y), `corner_radius` (one or four values).
    Rectangle {
        /// Size in x.
        width: Given<Length>,
        /// Size in y.
        height: Given<Length>,
        /// Corner radii: lower left, lower right, upper right, upper left.
        corner_radius: Option<Given<[Length; 4]>>,
    },
    /// `shape = "slot"`: a rectangle with half-round ends along x; `length` over all, `width`.
    Slot {
        /// Length over all.
        length: Given<Length>,
        /// Width.
        width: Given<Length>,
        /// Turned by this angle about its centre.
        angle: Opt<Angle>,
    },
    /// `shape = "polygon"`, regular: `sides`, `across_flats` or `diameter` (circumscribed), `corner_radius`, `angle`.
    Polygon {
        /// Number of sides, 3 to 60.
        sides: Given<u32>,
        /// Circumscribed circle's diameter.
        diameter: Given<Length>,
        /// Fillet at the corners.
        corner_radius: Opt<Length>,
        /// Turned by this angle.
        angle: Opt<Angle>,
    },
    /// `shape = "path"`: `start` and a list of `steps`; closes to the start with a line if need be.
    Path {
        /// First point.
        start: Given<Point>,
        /// Lines and arcs.
        steps: Vec<Given<PathStep>>,
    },
}

/// One step of a free path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum PathStep {
    /// `{ to = [x, y] }`: a line; with `fillet = r` the corner at its end is rounded.
    Line {
        /// End point.
        to: Point,
        /// Corner radius at the end point.
        fillet: Option<Length>,
    },
    /// `{ to = [x, y], bulge = b }`.
    Bulge {
        /// End point.
        to: Point,
        /// tan(included angle / 4), counter-clockwise positive; any size but 0.
        bulge: f64,
    },
    /// `{ to = [x, y], centre = [x, y], turn = "left" | "right" }`.
    Centre {
        /// End point.
        to: Point,
        /// Centre.
        centre: Point,
        /// True when the arc turns left (counter-clockwise).
        left: bool,
    },
    /// `{ to = [x, y], tangent = true }`: an arc tangent to the step before.
    Tangent {
        /// End point.
        to: Point,
    },
}

/// A through hole of the part, `[[part.hole]]`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HoleSpec {
    /// Centre of the shape, part coordinates.
    pub at: Given<Point>,
    /// Its shape (a plain `diameter` means a circle).
    pub outline: OutlineSpec,
}

/// A raised or sunk feature of the part, `[[part.feature]]`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FeatureSpec {
    /// What it is.
    pub kind: FeatureKind,
    /// On which side.
    pub side: Given<PartSide>,
    /// Raised: height above the face, sunk: depth below it. Positive.
    pub height: Given<Length>,
    /// True when it stands proud of the part's face, false when sunk into it.
    pub raised: bool,
    /// Centre, part coordinates.
    pub at: Given<Point>,
    /// Wall draft per side; left out = the part's.
    pub draft: Opt<Angle>,
}

/// The kinds of raised and sunk features.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum FeatureKind {
    /// `kind = "boss"`: raised shape.
    Boss {
        /// Its shape.
        outline: OutlineSpec,
    },
    /// `kind = "pocket"`: sunk shape.
    Pocket {
        /// Its shape.
        outline: OutlineSpec,
    },
    /// `kind = "rib"`: raised straight bar with round ends from `at` to `to`.
    Rib {
        /// Other end, part coordinates.
        to: Given<Point>,
        /// Width.
        width: Given<Length>,
    },
    /// `kind = "waves"`: concentric rings about `at`, raised or sunk.
    Waves {
        /// Outer diameter of the innermost ring's centre line.
        first_diameter: Given<Length>,
        /// Distance from ring to ring (radius step).
        pitch: Given<Length>,
        /// Number of rings, 1 to 50.
        count: Given<u32>,
        /// Width of a ring.
        width: Given<Length>,
    },
    /// `kind = "text"`.
    Text {
        /// The text; one line.
        text: Given<String>,
        /// Height of capital letters.
        size: Given<Length>,
        /// Turned by this angle.
        angle: Opt<Angle>,
    },
}

/// `[mold]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct MoldSection {
    /// Number of cavities, 1 to 4.
    pub cavities: Opt<u32>,
    /// Plate material (key of the materials table).
    pub material: Opt<String>,
    /// Plate width (x).
    pub width: Opt<Length>,
    /// Plate height (y).
    pub height: Opt<Length>,
    /// Corner radius of the plates.
    pub corner_radius: Opt<Length>,
    /// Thickness of the A plate.
    pub thickness_a: Opt<Length>,
    /// Thickness of the B plate.
    pub thickness_b: Opt<Length>,
    /// Height of the parting plane above the part's bottom face.
    pub parting: Opt<Length>,
    /// Distance between cavity centres.
    pub spacing: Opt<Length>,
    /// Metal left around the cavities.
    pub wall: Opt<Length>,
    /// Pry slots at two corners.
    pub pry_slots: Opt<bool>,
    /// Plate letters and revision engraved on the plates.
    pub marks: Opt<bool>,
}

/// `[feed]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct FeedSection {
    /// Sprue straight into the (single) cavity, no runner or gate.
    pub direct: Opt<bool>,
    /// Where the sprue meets the part (direct) or the gate enters (one cavity), part coordinates.
    pub at: Opt<Point>,
    /// Sprue diameter at the nozzle end.
    pub sprue_diameter: Opt<Length>,
    /// Included taper angle of the sprue.
    pub sprue_taper: Opt<Angle>,
    /// Runner diameter (half round: ball end mill diameter).
    pub runner_diameter: Opt<Length>,
    /// Gate width.
    pub gate_width: Opt<Length>,
    /// Gate depth.
    pub gate_depth: Opt<Length>,
    /// Gate land length.
    pub gate_length: Opt<Length>,
}

/// `[vents]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct VentsSection {
    /// Number per cavity, 0 to 24.
    pub count: Opt<u32>,
    /// Depth of the land.
    pub depth: Opt<Length>,
    /// Width.
    pub width: Opt<Length>,
    /// Length of the land.
    pub land: Opt<Length>,
    /// Depth of the relief behind the land.
    pub relief: Opt<Length>,
}

/// How the halves are screwed together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum BoltStyle {
    /// Socket heads sunk in the B plate, threads in the A plate.
    #[default]
    Tapped,
    /// Clearance through both plates, nuts (or wing nuts) outside.
    Through,
}

/// `[bolts]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct BoltsSection {
    /// How many, 2 to 24, even.
    pub count: Opt<u32>,
    /// "M8".
    pub size: Opt<String>,
    /// "8.8", "10.9", "12.9", "A2-70".
    pub class: Opt<String>,
    /// Tapped or through.
    pub style: Opt<BoltStyle>,
    /// Distance of the hole centres from the plate edge.
    pub edge: Opt<Length>,
}

/// `[dowels]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct DowelsSection {
    /// Pin diameter; 0 = none.
    pub diameter: Opt<Length>,
    /// How far one pin is moved off the symmetric place.
    pub offset: Opt<Length>,
}

/// Hole pattern of an adaptor plate.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "lowercase", tag = "pattern")]
pub enum Pattern {
    /// `pattern = "circle"`: `count` holes on `diameter`, first at `angle` from +x.
    Circle {
        /// Number of holes.
        count: Given<u32>,
        /// Bolt circle diameter.
        diameter: Given<Length>,
        /// Angle of the first hole.
        angle: Opt<Angle>,
    },
    /// `pattern = "grid"`: `columns` × `rows` at `pitch_x`, `pitch_y` about the centre.
    Grid {
        /// Holes in x.
        columns: Given<u32>,
        /// Holes in y.
        rows: Given<u32>,
        /// Pitch in x.
        pitch_x: Given<Length>,
        /// Pitch in y.
        pitch_y: Given<Length>,
    },
}

/// How a hole of the adaptor takes its screw.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum HoleStyle {
    /// Clearance hole ISO 273 medium.
    #[default]
    Clearance,
    /// Counterbored for a socket head.
    Counterbored,
    /// Countersunk.
    Countersunk,
    /// Tapped.
    Tapped,
}

/// `[adaptor]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct AdaptorSection {
    /// Outline of the plate; left out = a rectangle or circle around the pattern.
    pub outline: Opt<OutlineSpec>,
    /// Thickness.
    pub thickness: Opt<Length>,
    /// Material.
    pub material: Opt<String>,
    /// Hole pattern.
    pub pattern: Opt<Pattern>,
    /// Screw size.
    pub size: Opt<String>,
    /// How the holes take their screws.
    pub style: Opt<HoleStyle>,
    /// Bore through the plate behind the thread; left out = the nozzle's orifice rule.
    pub bore: Opt<Length>,
}

/// `[shop]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct ShopSection {
    /// End mill diameters at hand.
    pub end_mills: Opt<Vec<Length>>,
    /// Ball end mill diameters at hand.
    pub ball_mills: Opt<Vec<Length>>,
    /// Fastest spindle, 1/min.
    pub spindle_max: Opt<f64>,
    /// Slowest spindle, 1/min.
    pub spindle_min: Opt<f64>,
    /// What is at hand: "drill press", "mill", "cnc", "laser", "plasma", "waterjet", "welder", "lathe".
    pub machines: Opt<Vec<String>>,
    /// Cutter material: "HSS" or "carbide".
    pub cutter_material: Opt<String>,
}

/// `[output]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct OutputSection {
    /// Chord tolerance of meshes.
    pub chord_tolerance: Opt<Length>,
    /// "R2000" or "R12".
    pub dxf_version: Opt<String>,
    /// Kerf to compensate on the profile's cut layer; 0 = nominal.
    pub kerf: Opt<Length>,
}
