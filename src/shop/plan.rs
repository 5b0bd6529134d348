//! Features to operations, in a workable order.
//!
//! Input: a design's plates and the workshop. Output: a [`ShopPlan`].
//!
//! Order: the face away from the parting plane first, the parting face last, so that it is
//! turned over no more once it is finished; in each set-up the order of [`Kind`]; equal
//! tools together, one line per drill size. Times are estimates: cutting time by
//! L / vf, and handling of 0.3 min per hole, 2 min per tool, 10 min per set-up
//! (common practice, no source).

use super::area::Area;
use super::conditions::{self, Conditions};
use super::levels::Levels;
use super::motion::Motion;
use super::operation::{Kind, Operation, PlatePlan, Setup, ShopPlan};
use super::profile::{self, ProfileCut};
use super::view::{FaceView, face_name};
use super::workshop::Workshop;
use super::{drill, mill, order, sheet, speeds, turn};
use crate::base::units::{decimals, number};
use crate::base::{Code, Finding, Level};
use crate::data::material;
use crate::data::materials::Group;
use crate::design::{
    Design, Face, Feature, HoleStep, Impression, Plate, Purpose, SeatKind, Shape, Side,
    WeldedFitting,
};
use crate::sketch::{Region, Segment};
use rayon::prelude::*;

/// Handling per hole, per tool and per set-up, minutes.
pub(super) const PER_HOLE: f64 = 0.3;
pub(super) const PER_TOOL: f64 = 2.0;
const PER_SETUP: f64 = 10.0;

/// Handling of each side of a block that is squared: turn, clamp, measure, minutes (common
/// practice, no source).
const PER_SIDE: f64 = 6.0;
/// A bandsaw's or power hacksaw's mm² in a minute, in steel and in light metal (common practice,
/// no source).
const SAWN_STEEL: f64 = 400.0;
const SAWN_LIGHT: f64 = 1500.0;
/// End mill for squaring where none is at hand, mm.
const SQUARING_MILL: f64 = 12.0;
/// Metal for facing after a weld, mm (common practice, no source).
const WELD_OVER: f64 = 0.5;
/// Tacking, checking, welding in runs, cooling, minutes (common practice, no source).
const WELDING: f64 = 60.0;
/// Over the diameter of a disc on each side of its blank, mm.
const ROUND_OVER: f64 = 1.0;
/// A plate that one person does not lift alone, kg (common practice; local rules come first).
const HEAVY: f64 = 20.0;

/// Spot drill and how deep it goes, mm (common practice, no source).
const SPOT: f64 = 6.0;
const SPOT_DEPTH: f64 = 2.0;
/// Radius of a spot in diameters of the finished hole, and how deep it goes in depths of it: it
/// must vanish in the hole.
const SPOT_SHARE: f64 = 0.4;
const SPOT_OF_DEPTH: f64 = 0.8;

/// The plan of all plates.
pub fn plan(design: &Design, workshop: &Workshop) -> ShopPlan {
    let process = match &design.layers {
        Some(layers) => Some(layers.cut),
        None => profile::process(workshop),
    };
    let mut out = ShopPlan {
        profile: process,
        ..ShopPlan::default()
    };
    let cut = process.map(|process| ProfileCut { process, kerf: 0.0 });
    let welded = match &design.nozzle.kind {
        SeatKind::Welded(w) => Some(w),
        _ => None,
    };
    let plans: Vec<(PlatePlan, Vec<Finding>)> = (design.plates.par_iter())
        .map(|plate| {
            let takes = matches!(plate.side, Side::A | Side::Adaptor);
            plate_plan(plate, workshop, cut, welded.filter(|_| takes))
        })
        .collect();
    for (plan, findings) in plans {
        out.plates.push(plan);
        for f in findings {
            if !out.findings.iter().any(|known| known.what == f.what) {
                out.findings.push(f);
            }
        }
    }
    if let Some(cut) = &cut {
        profile::check(design, cut, workshop.sheet, &mut out.findings);
    }
    machines(design, workshop, &mut out.findings);
    speeds::check(&out.plates, workshop, &mut out.findings);
    let milled = out.plates.iter().any(|p| {
        p.operations.iter().any(|o| {
            matches!(
                o.kind,
                Kind::Rough | Kind::Finish | Kind::Rest | Kind::Groove | Kind::Vent
            )
        })
    });
    if milled && !workshop.has(&["mill", "cnc", "router"]) {
        out.findings.push(Finding::new(
            Level::Warn,
            Code::NoMillingMachine,
            "shop.machines",
            format!("pockets must be milled; at hand: {}", workshop.machines.join(", ")),
            "a drill press cannot take side load: its chuck comes off the taper (common practice, no source)",
            "have the pockets milled elsewhere, or make the mold of profile-cut sheets",
        ));
    }
    out
}

/// Work for which no machine is at hand.
fn machines(design: &Design, workshop: &Workshop, findings: &mut Vec<Finding>) {
    let drilled = design
        .plates
        .iter()
        .any(|p| p.features.iter().any(|f| matches!(f.shape, Shape::Hole(_))));
    if drilled && !workshop.has(&["drill", "mill", "cnc", "lathe"]) {
        findings.push(Finding::new(
            Level::Warn,
            Code::NoDrillingMachine,
            "shop.machines",
            format!(
                "holes must be drilled square to the plate; at hand: {}",
                workshop.machines.join(", ")
            ),
            "a hand drill leans: screws bind, dowels jam, the nozzle leaks (common practice, no source)",
            "have the holes drilled elsewhere: the drawings and drill templates show every one",
        ));
    }
    let welded = matches!(design.nozzle.kind, SeatKind::Welded(_));
    if welded && !workshop.has(&["weld"]) {
        findings.push(Finding::new(
            Level::Note,
            Code::NoWelder,
            "shop.machines",
            format!(
                "the nozzle fitting is welded on; at hand: {}",
                workshop.machines.join(", ")
            ),
            "a weld under pressure belongs to someone trained for it",
            "have it welded, or nozzle.joint = \"tapped\"",
        ));
    }
}

/// What is known while one plate is planned.
pub(super) struct Bench<'a> {
    pub(super) plate: &'a Plate,
    pub(super) workshop: &'a Workshop,
    /// What is hollow at each height.
    pub(super) levels: &'a Levels<'a>,
    /// The service that cuts sheets.
    pub(super) cut: Option<ProfileCut>,
    /// The fitting that is welded on its upper face.
    welded: Option<&'a WeldedFitting>,
    pub(super) findings: Vec<Finding>,
    pub(super) operations: Vec<Operation>,
}

fn plate_plan(
    plate: &Plate,
    workshop: &Workshop,
    cut: Option<ProfileCut>,
    welded: Option<&WeldedFitting>,
) -> (PlatePlan, Vec<Finding>) {
    let other = match plate.reference {
        Face::Low => Face::High,
        Face::High => Face::Low,
    };
    // A weld draws the plate: what must be true is cut from the other face after it.
    let faces = match welded {
        Some(_) => [Face::High, Face::Low],
        None => [other, plate.reference],
    };
    let levels = Levels::of(plate);
    let mut bench = Bench {
        plate,
        workshop,
        levels: &levels,
        cut,
        welded,
        findings: Vec::new(),
        operations: Vec::new(),
    };
    let mut setups = Vec::new();
    let sheet = cut.filter(|_| plate.side.profile_cut());
    match &sheet {
        Some(cut) => bench.order_sheet(cut),
        None if plate.side == Side::Pin => bench.pin(),
        None => bench.stock(),
    }
    for face in faces {
        let bare = bench.features(face).next().is_none();
        let needed = face == plate.reference || welded.is_some() || plate.side == Side::Core;
        if (bare && !needed) || plate.side == Side::Pin {
            continue;
        }
        let number = setups.len() + 1;
        setups.push(Setup {
            number,
            face,
            name: face_name(plate, face),
            note: FaceView::on(plate, face).note(),
        });
        let first = bench.operations.len();
        bench.mark(face);
        if face == other && plate.side == Side::Core {
            bench.spigot(face);
        }
        if welded.is_some() && face == faces[1] {
            bench.reface(face);
        }
        bench.holes(face);
        mill::pockets(&mut bench, face);
        match &sheet {
            Some(cut) if face == plate.reference => bench.finish_sheet(cut),
            Some(_) => {}
            None => bench.close(face, face == faces[1]),
        }
        if face == faces[0] {
            bench.weld(face);
        }
        let new = &mut bench.operations[first..];
        new.sort_by_key(|o| o.kind);
        for o in new {
            o.setup = number;
        }
    }
    for (i, o) in bench.operations.iter_mut().enumerate() {
        o.number = 10 * (i + 1);
    }
    order::state_needs(&mut bench.operations);
    let plan = PlatePlan {
        plate: plate.name.clone(),
        setups,
        states: (bench.operations.iter())
            .filter_map(Operation::state)
            .collect(),
        over: bench.over(),
        operations: bench.operations,
    };
    (plan, bench.findings)
}

impl<'a> Bench<'a> {
    /// What is made in the workshop from one face: all that no service has cut.
    pub(super) fn features(&self, face: Face) -> impl Iterator<Item = &'a Feature> + use<'a> {
        let (plate, cut) = (self.plate, self.cut);
        plate
            .features
            .iter()
            .filter(move |f| f.face == face && !cut.is_some_and(|c| sheet::is_cut(plate, f, &c)))
    }

    /// A new operation with nothing set yet.
    pub(super) fn operation(&self, kind: Kind, face: Face, what: String) -> Operation {
        Operation {
            number: 0,
            setup: 0,
            face,
            kind,
            what,
            tags: Vec::new(),
            makes: Vec::new(),
            tool: String::new(),
            machine: None,
            rpm: None,
            wanted: None,
            limited: false,
            feed: None,
            passes: String::new(),
            coolant: "",
            minutes: PER_TOOL,
            cutting: 0.0,
            caution: String::new(),
            measure: Vec::new(),
            motions: Vec::new(),
            rests: Vec::new(),
            allowance: 0.0,
            needs: Vec::new(),
        }
    }

    /// Lubricant for the metal (common practice, no source).
    pub(super) fn coolant(&self) -> &'static str {
        match material(&self.plate.material).map(|m| m.group) {
            Some(Group::Aluminium) => "cutting fluid or wax for aluminium, nothing that burns",
            Some(Group::MildSteel) => "cutting oil",
            Some(Group::Brass | Group::CastIron) => "dry",
            Some(Group::Copper) => "cutting oil",
            None => "as the metal's supplier says",
        }
    }

    fn stock(&mut self) {
        let b = self.plate.outline.bounds();
        let high = self.plate.thickness() + self.plate.standing() + self.over();
        let t = number(high);
        let known = material(&self.plate.material);
        let metal = known.map_or(self.plate.material.clone(), |m| m.name.clone());
        if let Some(blank) = bar_of(self.plate) {
            return self.bar(&metal, blank);
        }
        let back = face_name(
            self.plate,
            match self.plate.reference {
                Face::Low => Face::High,
                Face::High => Face::Low,
            },
        );
        let over = match self.over() > 0.0 {
            true => format!(
                " ({} mm of it for facing after the weld)",
                number(self.over())
            ),
            false => String::new(),
        };
        let what = match round_outline(&self.plate.outline) {
            Some(dia) => format!(
                "{metal}: saw a blank that holds ø{}, face both sides to {t} mm{over} (or profile-cut from the DXF); number the plate on the {back}",
                number((dia + 2.0 * ROUND_OVER).ceil())
            ),
            None => format!(
                "{metal}: saw, square and face to {} × {} × {t} mm{over} (or profile-cut from the DXF); \
                 number the plate on the {back}; choose the datum corner and mark it",
                number(b.width()),
                number(b.height()),
            ),
        };
        let mut o = self.operation(Kind::Stock, self.plate.reference, what);
        o.setup = 1;
        o.tool = "saw, file, square".into();
        self.squaring(&mut o, b.width(), b.height(), high);
        o.caution = "sharp edges and hot chips".into();
        let kilograms = known.map_or(0.0, |m| m.density * b.width() * b.height() * high * 1e-9);
        if kilograms > HEAVY {
            add(
                &mut o.caution,
                &format!("{} kg: two people or a hoist", number(kilograms.round())),
            );
        }
        o.measure.push(format!("thickness {t} mm"));
        o.measure
            .push("both faces flat and parallel: no light under a straight edge".into());
        o.motions.push(Motion::Outline {
            keep: Area::of_bounds(&b),
        });
        self.operations.push(o);
        self.outline();
    }

    /// The outline, where it is no rectangle.
    fn outline(&mut self) {
        let outline = &self.plate.outline;
        let b = outline.bounds();
        let keep = self.levels.outline().clone();
        if (b.width() * b.height() - keep.area()).abs() < 1e-6 * keep.area() {
            return;
        }
        let round = round_outline(outline);
        let what = match round {
            Some(dia) => format!(
                "turn the outline to ø{} on the faceplate or in the chuck",
                number(dia)
            ),
            None => {
                let radii = corner_radii(outline);
                match radii.is_empty() {
                    true => "saw and mill the outline to the DXF".to_owned(),
                    false => format!("round the corners of the outline: R {}", radii.join(", ")),
                }
            }
        };
        let kind = if round.is_some() {
            Kind::Turn
        } else {
            Kind::Stock
        };
        let mut o = self.operation(kind, self.plate.reference, what);
        o.setup = 1;
        o.tool = match round {
            Some(_) => "turning tool; on a mill: a rotary table".into(),
            None => "file to a radius gauge, or an end mill".into(),
        };
        if let Some(dia) = round {
            self.set(
                &mut o,
                conditions::turning(&self.plate.material, dia, self.workshop),
            );
            o.measure.push(format!("ø{} over the edge", number(dia)));
        }
        o.minutes = 20.0;
        o.motions.push(Motion::Outline { keep });
        self.operations.push(o);
    }

    /// Metal that is left on the lower face until the weld on the upper one has cooled, mm.
    fn over(&self) -> f64 {
        match self.welded {
            Some(_) => WELD_OVER,
            None => 0.0,
        }
    }

    /// Time to saw a block on four sides and mill its six faces, with handling for each side.
    fn squaring(&self, o: &mut Operation, width: f64, height: f64, thick: f64) {
        let sides = 2.0 * (width + height) * thick;
        let skin = 2.0 * width * height;
        let group = material(&self.plate.material).map(|m| m.group);
        let sawn = match group {
            Some(Group::MildSteel | Group::CastIron) => SAWN_STEEL,
            _ => SAWN_LIGHT,
        };
        let largest = self
            .workshop
            .end_mill(f64::INFINITY)
            .unwrap_or(SQUARING_MILL);
        let mut facing = self.operation(Kind::Stock, o.face, String::new());
        let metal = &self.plate.material;
        self.set(
            &mut facing,
            conditions::milling(metal, largest, false, self.workshop),
        );
        let way = (sides + skin) / (0.75 * largest);
        mill::time(&mut facing, way);
        o.cutting = sides / sawn + facing.cutting;
        o.minutes = o.cutting + 6.0 * PER_SIDE;
    }

    /// The fitting is welded on; what it is set on is cut before.
    fn weld(&mut self, face: Face) {
        let Some(fitting) = self.welded else { return };
        let what = format!(
            "weld the nozzle's fitting on as the assembly's steps say: leg {} mm all round; let it cool in air",
            number(fitting.leg)
        );
        let mut o = self.operation(Kind::Weld, face, what);
        o.tool = "welding set, square, clamps".into();
        o.minutes = WELDING;
        o.caution =
            "by someone trained for it; no zinc near arc or flame; shield, gloves, air".into();
        self.operations.push(o);
    }

    /// What the weld has drawn is faced before anything true is cut.
    fn reface(&mut self, face: Face) {
        let what = format!(
            "face the {} after the weld: {} mm off, to {} mm",
            face_name(self.plate, face),
            number(WELD_OVER),
            number(self.plate.thickness())
        );
        let mut o = self.operation(Kind::Face, face, what);
        let mill = self
            .workshop
            .end_mill(f64::INFINITY)
            .unwrap_or(SQUARING_MILL);
        o.tool = format!("end mill ø{}", number(mill));
        o.coolant = self.coolant();
        let metal = &self.plate.material;
        self.set(
            &mut o,
            conditions::milling(metal, mill, false, self.workshop),
        );
        o.passes =
            "one light pass, or the lathe's faceplate; no mill: file and lap on a plate".into();
        let area = self.levels.outline().area();
        mill::time(&mut o, area / (0.75 * mill));
        o.measure
            .push("flat: no light under a straight edge".into());
        o.motions.push(Motion::Clear {
            centres: Area::of_bounds(&self.plate.outline.bounds().grown(1.0)),
            z: self.plate.z(face),
            radius: 0.0,
        });
        self.operations.push(o);
    }

    /// A core's spigot, turned first: the core is held on it.
    fn spigot(&mut self, face: Face) {
        let (dia, long) = (self.plate.outline.bounds().width(), self.plate.thickness());
        let what = format!(
            "face the end; turn the spigot ø{} h6, {} mm long, its shoulder square",
            number(dia),
            number(long)
        );
        let mut o = self.operation(Kind::Turn, face, what);
        o.tool = "turning tool, facing tool".into();
        o.passes = "0.5 mm rough, 0.1 mm last".into();
        o.coolant = self.coolant();
        let metal = &self.plate.material;
        self.set(&mut o, conditions::turning(metal, dia, self.workshop));
        let blank = core_of(self.plate).map_or(dia, |i| turn::blank(i).0);
        let cuts = (0.5 * (blank - dia) / turn::CUT).ceil().max(1.0);
        mill::time(&mut o, cuts * long);
        o.caution = "nothing loose near the chuck; no gloves; chips by hook, not by hand".into();
        o.measure
            .push(format!("spigot ø{} h6 × {} mm", number(dia), number(long)));
        let (end, shoulder) = (self.plate.z(face), self.plate.z(self.plate.reference));
        o.motions.push(Motion::Bore {
            at: self.plate.outline.bounds().centre(),
            section: vec![
                [0.0, end],
                [0.5 * dia, end],
                [0.5 * dia, shoulder],
                [dia + blank, shoulder],
            ],
        });
        self.operations.push(o);
    }

    /// A core's blank, with its spigot.
    fn bar(&mut self, metal: &str, (dia, length): (f64, f64)) {
        let what = format!(
            "{metal}: saw a round bar of at least ø{} to {} mm",
            number(dia),
            number(length),
        );
        let mut o = self.operation(Kind::Stock, self.plate.reference, what);
        o.setup = 1;
        o.tool = "saw".into();
        o.minutes = 10.0;
        o.caution = "sharp edges and hot chips".into();
        self.operations.push(o);
    }

    fn mark(&mut self, face: Face) {
        let name = face_name(self.plate, face);
        let note = FaceView::on(self.plate, face).note();
        let what = match (self.plate.side, face == self.plate.reference) {
            (Side::Core, false) => {
                format!("hold the bar in the chuck, the {name} out, running true within 0.1 mm")
            }
            (Side::Core, true) => format!(
                "hold the spigot in a collet or in soft jaws bored to it, its shoulder against them, the {name} out: it runs true within 0.02 mm by the dial"
            ),
            _ => format!("clamp with the {name} up on parallels; {note}"),
        };
        let mut o = self.operation(Kind::Mark, face, what);
        o.tool = match self.plate.side {
            Side::Core => "chuck, soft jaws or collet, dial indicator".into(),
            _ => "edge finder or height gauge, scriber".into(),
        };
        o.minutes = PER_SETUP;
        o.caution = "clamp the plate down before every cut, also on the drill press: a drill that catches spins it".into();
        self.operations.push(o);
        let mut holes: Vec<String> = Vec::new();
        let mut motions = Vec::new();
        for f in self.features(face) {
            let Shape::Hole(hole) = &f.shape else {
                continue;
            };
            holes.push(f.tag.clone());
            let radius = spot_radius(&hole.steps, self.plate.thickness());
            motions.push(Motion::Axis {
                at: hole.at,
                shape: vec![[0.0, radius], [radius, 0.0]],
            });
        }
        if holes.is_empty() {
            return;
        }
        let what = "spot every hole at its place of the hole table; check two distances with a rule before drilling".to_owned();
        let mut o = self.operation(Kind::Spot, face, what);
        o.tool = "spot drill 90° ø6".into();
        self.set(
            &mut o,
            conditions::drilling(&self.plate.material, SPOT, SPOT_DEPTH, self.workshop),
        );
        drill::add_time(&mut o, &vec![SPOT_DEPTH; holes.len()]);
        o.coolant = self.coolant();
        o.tags = holes;
        o.motions = motions;
        o.passes = format!(
            "{} mm deep at most, and less than the finished hole is wide",
            number(SPOT_DEPTH)
        );
        self.operations.push(o);
    }

    /// Machine, speeds and feed into an operation.
    pub(super) fn set(&self, o: &mut Operation, c: Option<Conditions>) {
        if let Some(c) = c {
            o.machine = c.machine;
            o.wanted = Some(c.wanted);
            o.rpm = Some(c.rpm);
            o.feed = Some(c.feed.round());
            o.limited = c.limited;
        }
    }

    /// What ends a set-up.
    fn close(&mut self, face: Face, last: bool) {
        let mut o = self.operation(
            Kind::Deburr,
            face,
            if last && wets(self.plate) {
                "break the outer edges by 0.3 mm; leave the edges of cavity, runner and vents sharp: a rounded edge flashes".into()
            } else {
                "break all edges of this face by 0.3 mm".into()
            },
        );
        o.tool = "fine file, deburring blade, oil stone".into();
        o.minutes = 5.0;
        o.caution = "gloves off while a spindle turns, on for handling sharp plates".into();
        self.operations.push(o);
        let wet: Vec<String> = self
            .plate
            .features
            .iter()
            .filter(|f| {
                matches!(
                    f.purpose,
                    Purpose::Cavity
                        | Purpose::Core
                        | Purpose::Sprue
                        | Purpose::Runner
                        | Purpose::Gate
                        | Purpose::SpruePuller
                )
            })
            .map(|f| f.tag.clone())
            .collect();
        if last && !wet.is_empty() {
            let what = "polish what touches the plastic, strokes in the direction in which the part and the sprue leave; no bell mouth at the parting edge";
            let mut o = self.operation(Kind::Polish, face, what.into());
            o.tool = "stones and paper 320, 600, 1000 on a flat stick".into();
            o.minutes = 10.0 + 10.0 * wet.len() as f64;
            o.caution = "dust: wet paper, glasses".into();
            o.tags = wet;
            self.operations.push(o);
        }
    }
}

/// Whether plastic touches the plate on its parting face.
fn wets(plate: &Plate) -> bool {
    plate.features.iter().any(|f| {
        matches!(
            f.purpose,
            Purpose::Cavity | Purpose::Core | Purpose::Runner | Purpose::Gate | Purpose::Sprue
        ) && plate.side != Side::Adaptor
    })
}

/// Radius, and so depth, of the 90° spot that one of a hole's steps takes away again, mm.
fn spot_radius(steps: &[HoleStep], thickness: f64) -> f64 {
    let within = |s: &HoleStep| {
        let (narrowest, depth) = match s {
            // It begins below the face.
            HoleStep::Groove { .. } => return 0.0,
            HoleStep::Taper {
                dia_face, dia_end, ..
            } => (dia_face.min(*dia_end), s.depth()),
            _ => (s.dia(), s.depth()),
        };
        let depth = depth.map_or(0.5 * narrowest, |d| d.within(thickness));
        (SPOT_SHARE * narrowest).min(SPOT_OF_DEPTH * depth)
    };
    steps.iter().map(within).fold(0.0, f64::max).min(SPOT_DEPTH)
}

/// Diameter of an outline that is one circle, mm.
fn round_outline(outline: &Region) -> Option<f64> {
    let b = outline.bounds();
    let dia = b.width();
    let circle = 0.25 * std::f64::consts::PI * dia * dia;
    let same = (b.height() - dia).abs() < 1e-6 && (outline.area() - circle).abs() < 1e-6 * circle;
    (same && outline.holes.is_empty()).then_some(dia)
}

/// Radii of an outline's corners in words, each once.
fn corner_radii(outline: &Region) -> Vec<String> {
    let mut radii: Vec<String> = (outline.outer.segments())
        .filter_map(|s| match s {
            Segment::Arc { radius, .. } => Some(decimals(radius, 2)),
            Segment::Line { .. } => None,
        })
        .collect();
    radii.sort();
    radii.dedup();
    radii
}

/// Diameter and length of the bar that a core is turned from, mm; `None` for a plate.
pub fn bar_of(plate: &Plate) -> Option<(f64, f64)> {
    if plate.side != Side::Core {
        return None;
    }
    let (dia, over) = turn::blank(core_of(plate)?);
    let spigot = plate.outline.bounds().width();
    Some((dia.max(spigot).ceil(), (over + plate.thickness()).ceil()))
}

/// The core that stands on a plate.
fn core_of(plate: &Plate) -> Option<&Impression> {
    plate.features.iter().find_map(|f| match &f.shape {
        Shape::Core(i) => Some(i),
        _ => None,
    })
}

/// Adds a sentence.
pub(super) fn add(text: &mut String, more: &str) {
    if !text.is_empty() {
        text.push_str("; ");
    }
    text.push_str(more);
}

#[cfg(test)]
mod tests;
