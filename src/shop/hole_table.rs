//! The hole table: every hole and every other cut of a plate, once, with place and size.
//!
//! Input: a plate. Output: rows in the order of the tags. X and Y are read on the face the
//! hole is drilled from, from the plate's datum ([`FaceView`]: on the lower face X counts
//! negative). Lower and upper sizes: ISO 286 for fits and screw holes, the thread's minor
//! diameter for what is tapped, else ISO 2768-1 medium.

use super::view::FaceView;
use crate::base::System;
use crate::base::shown;
use crate::base::units::{decimals, number};
use crate::data::Thread;
use crate::data::fasteners::Series;
use crate::data::fits;
use crate::data::tolerances::{General, general_linear};
use crate::design::hole::{TaperKind, dish_depth};
use crate::design::{Depth, Face, Feature, HoleStep, Outside, OutsideKind, Plate, Purpose, Shape};

/// What a tool does to a hole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StepKind {
    /// Twist drill.
    Drill,
    /// Reamer.
    Ream,
    /// Flat sinking.
    Counterbore,
    /// Conical sinking.
    Countersink,
    /// Tap.
    Tap,
    /// Taper reamer.
    Taper,
    /// Groove in the wall.
    Groove,
    /// Spherical dish.
    Dish,
}

impl StepKind {
    /// The word for people.
    pub fn word(self) -> &'static str {
        match self {
            StepKind::Drill => "drill",
            StepKind::Ream => "ream",
            StepKind::Counterbore => "counterbore",
            StepKind::Countersink => "countersink",
            StepKind::Tap => "tap",
            StepKind::Taper => "taper",
            StepKind::Groove => "groove",
            StepKind::Dish => "dish",
        }
    }
    /// Of a step of a hole.
    fn of(step: &HoleStep) -> Self {
        match step {
            HoleStep::Drill { .. } => StepKind::Drill,
            HoleStep::Ream { .. } => StepKind::Ream,
            HoleStep::Counterbore { .. } => StepKind::Counterbore,
            HoleStep::Countersink { .. } => StepKind::Countersink,
            HoleStep::Tap { .. } => StepKind::Tap,
            HoleStep::Taper { .. } => StepKind::Taper,
            HoleStep::Groove { .. } => StepKind::Groove,
            HoleStep::Dish { .. } => StepKind::Dish,
        }
    }
}

/// One tool's part of a hole.
#[derive(Debug, Clone, PartialEq)]
pub struct StepRow {
    /// What is done.
    pub what: StepKind,
    /// Diameter, mm (tap: major diameter; taper: at the face).
    pub dia: f64,
    /// `None` = through.
    pub depth: Option<f64>,
    /// Thread designation, or empty.
    pub thread: String,
    /// Fit class, or empty.
    pub fit: String,
    /// Least and largest diameter, mm, where one is prescribed.
    pub limits: Option<(f64, f64)>,
    /// ± on the depth, mm, where it is blind.
    pub depth_tolerance: Option<f64>,
    /// What else there is to know: point angle, cone angle, taper's other end.
    pub note: String,
}

impl StepRow {
    /// The callout as on a drawing: `ø6 H7 × 12`, `M8 through`.
    pub fn callout(&self) -> String {
        let size = if self.thread.is_empty() {
            let fit = if self.fit.is_empty() {
                String::new()
            } else {
                format!(" {}", self.fit)
            };
            format!("ø{}{fit}", shown::bare_size(self.dia))
        } else {
            self.thread.clone()
        };
        let depth = match (self.what, self.depth) {
            (StepKind::Countersink, _) => String::new(),
            (_, None) => " through".to_owned(),
            (_, Some(d)) => format!(" × {}", shown::bare_length(d, 2)),
        };
        let note = if self.note.is_empty() {
            String::new()
        } else {
            format!(" ({})", self.note)
        };
        format!("{size}{depth}{note}")
    }
}

/// A hole.
#[derive(Debug, Clone, PartialEq)]
pub struct HoleRow {
    /// Tag.
    pub tag: String,
    /// What it is for.
    pub purpose: Purpose,
    /// The face it is drilled from.
    pub face: Face,
    /// From the datum on that face, mm.
    pub x: f64,
    /// From the datum on that face, mm.
    pub y: f64,
    /// The steps in the order they are machined.
    pub steps: Vec<StepRow>,
}

/// Anything cut that is no hole.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherRow {
    /// Tag.
    pub tag: String,
    /// What it is for.
    pub purpose: Purpose,
    /// The face it is cut from.
    pub face: Face,
    /// What is cut, with its sizes.
    pub what: String,
    /// Extents on that face from the datum: x from, x to, y from, y to, mm.
    pub extent: [f64; 4],
    /// Depth, mm.
    pub depth: f64,
    /// ± on the depth, mm (ISO 2768-m; vents and gates: a tenth of the depth at least 0.01).
    pub depth_tolerance: f64,
}

/// All features of one plate, each once.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HoleTable {
    /// Holes.
    pub holes: Vec<HoleRow>,
    /// Pockets, grooves, cavities, marks.
    pub others: Vec<OtherRow>,
}

impl HoleTable {
    /// All tags, holes first.
    pub fn tags(&self) -> impl Iterator<Item = &str> {
        let holes = self.holes.iter().map(|r| r.tag.as_str());
        holes.chain(self.others.iter().map(|r| r.tag.as_str()))
    }
}

/// The word for people.
pub fn purpose_words(p: Purpose) -> &'static str {
    match p {
        Purpose::Nozzle => "nozzle seat",
        Purpose::Sprue => "sprue",
        Purpose::SpruePuller => "cold-slug well",
        Purpose::Runner => "runner",
        Purpose::Gate => "gate",
        Purpose::Cavity => "cavity",
        Purpose::VentLand => "vent land",
        Purpose::VentRelief => "vent relief",
        Purpose::Bolt => "screw",
        Purpose::FlangeScrew => "flange screw",
        Purpose::Register => "spigot register",
        Purpose::Dowel => "dowel",
        Purpose::PrySlot => "pry slot",
        Purpose::Jack => "jack screw",
        Purpose::Mark => "mark",
        Purpose::Core => "core",
        Purpose::CoreSeat => "bore for the core",
        Purpose::CoreScrew => "core screw",
        Purpose::TurnedEnd => "turned end",
        Purpose::Outlet => "outlet",
        Purpose::MeltWay => "melt way",
        Purpose::Spanner => "pin spanner",
        Purpose::Custom => "as asked for",
    }
}

/// The table of a plate.
pub fn hole_table(plate: &Plate) -> HoleTable {
    let mut table = HoleTable::default();
    for f in &plate.features {
        let view = FaceView::on(plate, f.face);
        match &f.shape {
            Shape::Hole(hole) => {
                let p = view.point(hole.at);
                table.holes.push(HoleRow {
                    tag: f.tag.clone(),
                    purpose: f.purpose,
                    face: f.face,
                    x: p.x,
                    y: p.y,
                    steps: (0..hole.steps.len())
                        .map(|i| row_in(&hole.steps, i, f.purpose))
                        .collect(),
                });
            }
            _ => table.others.push(other_row(plate, f, &view)),
        }
    }
    table
}

/// A pitch as it is told: millimetres, or threads to the inch.
fn pitch_words(thread: &Thread, pitch: f64) -> String {
    let metric = matches!(thread, Thread::Screw(s) if s.series() == Series::Metric);
    match System::current() {
        System::Metric => format!("pitch {}", number(pitch)),
        System::Inch if metric => format!("pitch {} mm", number(pitch)),
        System::Inch => format!("{} threads per inch", decimals(shown::INCH / pitch, 2)),
    }
}

/// ± on a linear size by ISO 2768-m; sizes under 0.5 mm take the row of 0.5 mm.
fn general(size: f64) -> Option<f64> {
    general_linear(General::Medium, size.max(0.5))
}

/// A step among the others of its hole: a hole for a screw is H13 (ISO 273, DIN 974-1, DIN 74),
/// what a thread is tapped into has the limits of its minor diameter.
pub(super) fn row_in(steps: &[HoleStep], index: usize, purpose: Purpose) -> StepRow {
    let step = &steps[index];
    let mut row = step_row(step);
    let tapped = steps.iter().find_map(|s| match s {
        HoleStep::Tap { thread, .. } => Some(thread),
        _ => None,
    });
    let screw = matches!(
        purpose,
        Purpose::Bolt | Purpose::FlangeScrew | Purpose::CoreScrew
    );
    match (step, tapped) {
        (HoleStep::Drill { .. }, Some(thread)) => {
            if let Some(limits) = thread.minor_limits() {
                row.limits = Some(limits);
            }
        }
        (
            HoleStep::Drill { dia, .. }
            | HoleStep::Counterbore { dia, .. }
            | HoleStep::Countersink { dia, .. },
            None,
        ) if screw => {
            if let Some(it) = fits::grade(13, *dia) {
                row.fit = "H13".into();
                row.limits = Some((*dia, dia + it));
            }
        }
        _ => {}
    }
    row
}

fn step_row(step: &HoleStep) -> StepRow {
    let mut row = StepRow {
        what: StepKind::of(step),
        dia: step.dia(),
        depth: None,
        thread: String::new(),
        fit: String::new(),
        limits: None,
        depth_tolerance: None,
        note: String::new(),
    };
    let plus_minus = |d: f64| general(d).map(|t| (d - t, d + t));
    let blind = |depth: &Depth| match depth {
        Depth::Through => None,
        Depth::Blind(d) => Some(*d),
    };
    match step {
        HoleStep::Drill {
            dia,
            depth,
            point_deg,
        } => {
            row.depth = blind(depth);
            row.limits = plus_minus(*dia);
            if row.depth.is_some() {
                row.note = if *point_deg >= 180.0 {
                    "flat bottom".to_owned()
                } else {
                    format!("full diameter, point {}°", number(*point_deg))
                };
            }
        }
        HoleStep::Ream { dia, depth, fit } => {
            row.depth = blind(depth);
            row.fit = fit.clone();
            row.limits = fits::limits(fit, *dia).map(|l| (dia + l.lower, dia + l.upper));
        }
        HoleStep::Counterbore { dia, depth } => {
            row.depth = Some(*depth);
            row.limits = plus_minus(*dia);
        }
        HoleStep::Countersink { dia, angle_deg } => {
            row.limits = plus_minus(*dia);
            row.note = format!("{}°", number(*angle_deg));
        }
        HoleStep::Tap {
            thread,
            major,
            pitch,
            depth,
        } => {
            row.dia = *major;
            row.depth = blind(depth);
            row.thread = thread.to_string();
            row.note = pitch_words(thread, *pitch);
        }
        HoleStep::Taper {
            kind,
            dia_face,
            dia_end,
            depth,
        } => {
            row.dia = *dia_face;
            row.depth = Some(*depth);
            row.limits = plus_minus(*dia_face);
            let taper = match kind {
                TaperKind::Pipe => "1:16 ",
                TaperKind::Sprue => "",
            };
            row.note = format!("tapers {taper}to ø{}", shown::bare_length(*dia_end, 3));
        }
        HoleStep::Groove { dia, from, to } => {
            row.depth = Some(*to);
            row.limits = plus_minus(*dia);
            row.note = format!("relief, from {} below the face", shown::size(*from));
        }
        HoleStep::Dish { dia, radius } => {
            row.depth = Some((dish_depth(*dia, *radius) * 1000.0).round() / 1000.0);
            row.limits = plus_minus(*dia);
            row.note = format!("sphere R{}", shown::bare_size(*radius));
        }
    }
    row.depth_tolerance = row.depth.and_then(general);
    row
}

fn other_row(plate: &Plate, f: &Feature, view: &FaceView) -> OtherRow {
    let (bounds, depth, what) = match &f.shape {
        Shape::Hole(h) => {
            let b = crate::sketch::Bounds::of_points([view.point(h.at)]);
            (b, 0.0, "hole".to_owned())
        }
        Shape::Pocket {
            region,
            depth,
            draft_deg,
            cutter,
        } => {
            let draft = if *draft_deg > 0.0 {
                format!(", draft {}° per side", number(*draft_deg))
            } else {
                String::new()
            };
            let what = if f.purpose == Purpose::CoreSeat {
                format!(
                    "bore ø{} H7, floor square",
                    shown::bare_length(region.bounds().width(), 3)
                )
            } else if plate.opens(f) {
                "opening, profile-cut right through".to_owned()
            } else if plate.side.profile_cut() {
                "by file and paper".to_owned()
            } else {
                format!("pocket, end mill to ø{}{draft}", shown::tool_size(*cutter))
            };
            (view.region(region).bounds(), *depth, what)
        }
        Shape::Groove { path, radius } => {
            let what = format!("half-round groove R{}", shown::bare_size(*radius));
            let b = view.path(path).bounds().grown(*radius);
            (b, *radius, what)
        }
        Shape::Outside(o) => {
            let widest = o.edges().first().map_or(0.0, |d| 0.5 * d);
            let axis = view.point(crate::sketch::Point::origin());
            let b = crate::sketch::Bounds::of_points([axis]).grown(widest);
            (b, o.depth(), format!("from the face: {}", outside_words(o)))
        }
        Shape::Cavity(i) | Shape::Core(i) => {
            let mut b = crate::sketch::Bounds::default();
            for (_, form) in f.shaping() {
                b = b.union(&form_bounds(form, view));
            }
            if let Shape::Core(_) = f.shape {
                let what = "core standing on this face".to_owned();
                return row(f, b, i.depth, what);
            }
            let corner = if i.corner_radius > 0.0 {
                format!("smallest inner radius {}", shown::gauged(i.corner_radius))
            } else {
                "sharp inner corners: as the smallest cutter leaves them".to_owned()
            };
            (b, i.depth, format!("impression of the part, {corner}"))
        }
    };
    row(f, bounds, depth, what)
}

/// The steps of a turned end from its face, as on a drawing.
pub(crate) fn outside_words(outside: &Outside) -> String {
    let steps = outside.steps.iter().map(|s| {
        let long = shown::bare_length(s.length, 2);
        let (start, end) = (shown::bare_length(s.start, 2), shown::bare_length(s.end, 2));
        match &s.kind {
            OutsideKind::Chamfer => format!("chamfer ø{start} to ø{end} × {long}"),
            OutsideKind::Thread { thread, .. } if (s.end - s.start).abs() > 1e-9 => {
                format!("{thread} × {long}, crests ø{start} to ø{end} (1:16)")
            }
            OutsideKind::Thread { thread, .. } => format!("{thread} × {long}, crests ø{start}"),
            OutsideKind::Relief => format!("undercut ø{start} × {long}"),
            OutsideKind::Nose { radius } => {
                format!(
                    "sphere R{} from ø{start}, {long} long",
                    shown::bare_size(*radius)
                )
            }
            OutsideKind::Crown => format!("corners chamfered 30° from ø{start}"),
            OutsideKind::Plain if (s.end - s.start).abs() > 1e-9 => {
                format!("cone ø{start} to ø{end} × {long}")
            }
            OutsideKind::Plain => format!("ø{start} × {long}"),
        }
    });
    steps.collect::<Vec<_>>().join(", ")
}

fn row(f: &Feature, bounds: crate::sketch::Bounds, depth: f64, what: String) -> OtherRow {
    let fine = matches!(f.purpose, Purpose::VentLand | Purpose::Gate);
    OtherRow {
        tag: f.tag.clone(),
        purpose: f.purpose,
        face: f.face,
        what,
        extent: [bounds.min.x, bounds.max.x, bounds.min.y, bounds.max.y],
        depth,
        depth_tolerance: if fine {
            (0.1 * depth).max(0.01)
        } else {
            general(depth).unwrap_or(0.1)
        },
    }
}

/// Box of a form on a face.
fn form_bounds(form: &crate::part::Form, view: &FaceView) -> crate::sketch::Bounds {
    use crate::part::Form;
    match form {
        Form::Prism { region, profile } => {
            let outward = profile.iter().map(|p| -p.across).fold(0.0, f64::max);
            view.region(region).bounds().grown(outward)
        }
        Form::Turned { at, profile } => {
            let r = profile.iter().map(|p| p.across).fold(0.0, f64::max);
            crate::sketch::Bounds::of_points([view.point(*at)]).grown(r)
        }
        Form::Revolved { at, section } => {
            crate::sketch::Bounds::of_points([view.point(*at)]).grown(section.bounds().max.x)
        }
        Form::Groove { path, radius, .. } => view.path(path).bounds().grown(*radius),
        Form::Mesh { body } => body
            .outline()
            .iter()
            .map(|r| view.region(r).bounds())
            .reduce(|a, b| a.union(&b))
            .unwrap_or_default(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::fasteners::screw_thread;
    use crate::data::{PipeThread, Thread};
    use crate::design::sample;

    fn row(table: &HoleTable, tag: &str) -> HoleRow {
        table
            .holes
            .iter()
            .find(|r| r.tag == tag)
            .cloned()
            .expect("the hole")
    }

    #[test]
    fn every_feature_has_one_row() {
        for plate in [sample::plate_a(), sample::plate_b()] {
            let table = hole_table(&plate);
            let mut tags: Vec<&str> = table.tags().collect();
            tags.sort_unstable();
            let mut want: Vec<&str> = plate.features.iter().map(|f| f.tag.as_str()).collect();
            want.sort_unstable();
            assert_eq!(tags, want);
        }
    }

    #[test]
    fn a_dowel_hole_has_the_limits_of_iso_286() {
        // ISO 286-2: 6 H7 is +12/0 µm (band over 3 up to and including 6 mm).
        let t = hole_table(&sample::plate_a());
        let dowel = row(&t, "A8");
        assert_eq!((dowel.x, dowel.y), (-108.0, 65.0));
        let ream = &dowel.steps[1];
        let (low, high) = ream.limits.expect("limits");
        assert!((low - 6.0).abs() < 1e-12 && (high - 6.012).abs() < 1e-9);
        assert_eq!(ream.callout(), "ø6 H7 through");
        // ISO 2768-m: ±0.1 over 3 to 6 mm.
        let (low, high) = dowel.steps[0].limits.expect("limits");
        assert!((low - 5.7).abs() < 1e-9 && (high - 5.9).abs() < 1e-9);
    }

    #[test]
    fn holes_from_the_back_are_read_on_the_back() {
        let t = hole_table(&sample::plate_b());
        let bolt = row(&t, "B3");
        assert_eq!((bolt.face, bolt.x, bolt.y), (Face::Low, -108.0, 12.0));
        let words: Vec<String> = bolt.steps.iter().map(StepRow::callout).collect();
        assert_eq!(words, ["ø9 H13 through", "ø15 H13 × 8.6"]);
        // ISO 286-1, IT13: 0.22 over 6 to 10, 0.27 over 10 to 18 mm.
        let high: Vec<f64> = bolt.steps.iter().map(|s| s.limits.unwrap().1).collect();
        assert!((high[0] - 9.22).abs() < 1e-9 && (high[1] - 15.27).abs() < 1e-9);
        let cavity = &t.others[0];
        assert_eq!(cavity.extent, [60.0, 100.0, 40.0, 80.0]);
        assert_eq!(cavity.depth, 4.0);
    }

    /// ISO 965-1, M8-6H: 6.647 to 6.912. ISO 228-1, G 1/2: 18.631 to 19.172.
    #[test]
    fn what_is_tapped_has_the_limits_of_its_thread() {
        let limits = |text: &str| {
            let pipe = || PipeThread::parse(text).map(Thread::Pipe);
            let thread = Thread::screw(text).or_else(pipe).expect(text);
            thread.minor_limits()
        };
        for (thread, low, high) in [
            ("M8", 6.647, 6.912),
            ("M3", 2.459, 2.599),
            ("G 1/2", 18.631, 19.172),
            ("Rp 1/2", 18.489, 18.773),
        ] {
            let (l, h) = limits(thread).expect(thread);
            assert!(
                (l - low).abs() < 5e-4 && (h - high).abs() < 5e-4,
                "{thread}"
            );
        }
        assert_eq!(limits("Rc 1/2"), None);
        let steps = HoleStep::tapped(
            screw_thread("M8").expect("M8"),
            Depth::Blind(20.0),
            Depth::Blind(15.0),
        );
        let row = row_in(&steps, 0, Purpose::Bolt);
        assert_eq!(row.limits, Some((6.647, 6.912)));
        assert_eq!(row.callout(), "ø6.8 × 20 (full diameter, point 118°)");
    }
}
