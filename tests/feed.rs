//! Sprue, runners and gates against outlines of many shapes: one body, nothing cut, metal left.
//!
//! What is held to what: areas by the booleans of outlines (the layout itself asks for distances
//! and heights), and the solid of the shot, whose pieces are counted.

use nalgebra::{Rotation3, Vector2, Vector3};
use platewright::base::Level;
use platewright::base::units::number;
use platewright::design::{Channel, Design, Hints, design};
use platewright::part::BodyOf;
use platewright::pipeline;
use platewright::sketch::{Contour, Path, Point, Region, Vertex, shapes};
use platewright::solid::{TaggedMesh, Tolerance, part_solid, shot_solid};
use platewright::spec;
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::fmt::Write as _;

type P2 = (f64, f64);

/// Corners of an outline about (0, 0), turned by quarter turns.
fn turned(points: &[P2], quarters: u32) -> Vec<P2> {
    let mut all = points.to_vec();
    for _ in 0..quarters {
        all.iter_mut().for_each(|p| *p = (-p.1, p.0));
    }
    all
}

/// L, U, T, C, comb, star and cross of a size, mm. All against the clock.
fn corners(shape: &str, s: f64) -> Vec<P2> {
    let scaled = |all: &[P2]| all.iter().map(|p| (p.0 * s, p.1 * s)).collect();
    match shape {
        "L" => scaled(&[
            (0.0, 0.0),
            (1.0, 0.0),
            (1.0, 0.25),
            (0.25, 0.25),
            (0.25, 1.0),
            (0.0, 1.0),
        ]),
        "U" => scaled(&[
            (-0.5, -0.5),
            (0.5, -0.5),
            (0.5, 0.5),
            (0.25, 0.5),
            (0.25, -0.25),
            (-0.25, -0.25),
            (-0.25, 0.5),
            (-0.5, 0.5),
        ]),
        // A mouth of a tenth of the size.
        "narrow U" => scaled(&[
            (-0.5, -0.5),
            (0.5, -0.5),
            (0.5, 0.5),
            (0.05, 0.5),
            (0.05, -0.25),
            (-0.05, -0.25),
            (-0.05, 0.5),
            (-0.5, 0.5),
        ]),
        "T" => scaled(&[
            (-0.12, -0.5),
            (0.12, -0.5),
            (0.12, 0.25),
            (0.5, 0.25),
            (0.5, 0.5),
            (-0.5, 0.5),
            (-0.5, 0.25),
            (-0.12, 0.25),
        ]),
        "C" => {
            // An arc of 300° with square ends, in chords.
            let arc = |r: f64, from: f64, to: f64| {
                (0..=20).map(move |k| {
                    let a = (from + (to - from) * f64::from(k) / 20.0) * PI / 180.0;
                    (r * a.cos(), r * a.sin())
                })
            };
            let all: Vec<P2> = arc(0.5, 30.0, 330.0)
                .chain(arc(0.32, 330.0, 30.0))
                .collect();
            scaled(&all)
        }
        "comb" => {
            let mut all = vec![(-0.5, -0.3), (0.5, -0.3)];
            for k in 0..4 {
                let x = 0.5 - f64::from(k) * 0.2667;
                all.extend([(x, 0.3), (x - 0.2, 0.3)]);
                if k < 3 {
                    all.extend([(x - 0.2, -0.1), (x - 0.2667, -0.1)]);
                }
            }
            all.last_mut().unwrap().0 = -0.5;
            scaled(&all)
        }
        "star" => {
            let all: Vec<P2> = (0..10)
                .map(|k| {
                    let r = if k % 2 == 0 { 0.5 } else { 0.2 };
                    let a = PI / 5.0 * f64::from(k) + 0.1;
                    (r * a.cos(), r * a.sin())
                })
                .collect();
            scaled(&all)
        }
        _ => panic!("no such shape"),
    }
}

const SHAPES: [&str; 7] = ["L", "U", "narrow U", "T", "C", "comb", "star"];

fn path(points: &[P2]) -> String {
    let at = |p: P2| format!("[{}, {}]", number(p.0), number(p.1));
    let steps: Vec<String> = points[1..]
        .iter()
        .map(|p| format!("{{ to = {} }}", at(*p)))
        .collect();
    format!(
        "{{ shape = \"path\", start = {}, steps = [{}] }}",
        at(points[0]),
        steps.join(", ")
    )
}

/// A job of a plate part; `more`: further lines, sections first.
fn plate(outline: &str, thickness: f64, cavities: u32, part: &str, more: &str) -> String {
    format!(
        "[job]\nname = \"x\"\n[plastic]\nkind = \"PP\"\n[machine]\nstroke = 300\n[nozzle]\nthread = \"G 1/4\"\n[output]\nfill = \"off\"\n[mold]\ncavities = {cavities}\n{more}\n[part]\nthickness = {thickness}\nround = false\noutline = {outline}\n{part}\n"
    )
}

fn designed(text: &str) -> Design {
    let job = spec::read(text).unwrap_or_else(|e| panic!("{text}\n{:?}", e.0));
    design(&job, "x", &Hints::default()).unwrap_or_else(|e| panic!("{text}\n{:?}", e.0))
}

/// How many bodies a mesh holds.
fn bodies(mesh: &TaggedMesh) -> usize {
    let mut root: Vec<usize> = (0..mesh.points.len()).collect();
    fn find(root: &mut [usize], mut i: usize) -> usize {
        while root[i] != i {
            root[i] = root[root[i]];
            i = root[i];
        }
        i
    }
    for t in &mesh.triangles {
        for k in 0..2 {
            let (a, b) = (
                find(&mut root, t[k] as usize),
                find(&mut root, t[k + 1] as usize),
            );
            root[a] = b;
        }
    }
    let mut seen: BTreeMap<usize, ()> = BTreeMap::new();
    for i in mesh.triangles.iter().flatten() {
        let r = find(&mut root, *i as usize);
        seen.insert(r, ());
    }
    seen.len()
}

/// A straight channel with round ends.
fn band(path: &Path, width: f64) -> Region {
    let (a, b) = (path.vertices[0].at, path.vertices[1].at);
    Region::simple(shapes::bar(a, b, width).expect("a channel"))
}

/// A rectangle along a line.
fn bar(a: Point, b: Point, width: f64) -> Region {
    let along = (b - a).normalize();
    let n = Vector2::new(-along.y, along.x) * (0.5 * width);
    let v = |p: Point| Vertex { at: p, bulge: 0.0 };
    Region::simple(Contour::new(vec![v(a - n), v(b - n), v(b + n), v(a + n)]))
}

fn area(all: &[Region]) -> f64 {
    all.iter().map(Region::area).sum()
}

/// The placed outlines of a plate part.
fn outlines(d: &Design) -> Vec<Region> {
    let bodies = &d.part.as_ref().expect("a part").bodies;
    let region = |form: &platewright::part::Form| match form {
        platewright::part::Form::Prism { region, .. } => region.clone(),
        _ => panic!("a prism"),
    };
    let mut outline = region(&bodies[0].form);
    for b in &bodies[1..] {
        if matches!(b.of, BodyOf::Hole(_)) {
            outline.holes.push(region(&b.form).outer.clockwise());
        }
    }
    d.cavities.iter().map(|c| c.region(&outline)).collect()
}

/// What the features of a released design have to be: areas by booleans, the shot by its solid.
fn holds(d: &Design, text: &str) {
    let stops: Vec<_> = d
        .findings
        .iter()
        .filter(|f| f.level == Level::Stop)
        .collect();
    assert!(d.whole_shot, "{stops:?}\n{text}");
    let about = |code: &str| {
        code.starts_with("feed-") || code.starts_with("gate-") || code.starts_with("sprue-")
    };
    assert!(
        !stops.iter().any(|f| about(f.code.as_str())),
        "{stops:?}\n{text}"
    );
    let feed = d.feed.as_ref().expect("fed");
    let parts = outlines(d);
    for run in &feed.runs {
        let width = run.channel.width();
        let runner = match run.channel {
            Channel::HalfRound { .. } => band(&run.runner, width),
            Channel::Cut { .. } => bar(run.runner.vertices[0].at, run.gate.0, width),
        };
        // The land's metal: the runner grown by nine tenths of it meets no cavity.
        let grown = runner.offset(0.9 * run.gate_length.min(2.0));
        let land = bar(run.gate.0, run.entry, run.gate_width);
        let gate = bar(run.entry, run.gate.1, run.gate_width);
        for (k, part) in parts.iter().enumerate() {
            let one = std::slice::from_ref(part);
            let met = area(
                &platewright::sketch::combine(
                    platewright::sketch::Operation::Intersection,
                    one,
                    &grown,
                )
                .expect("areas"),
            );
            assert!(met < 1e-3, "runner {met} mm² into cavity {k}\n{text}");
            let own = run.cavity == k;
            let in_land = area(&land.intersection(part).expect("areas"));
            let in_gate = area(&gate.intersection(part).expect("areas"));
            if own {
                // Beside the middle of the mouth the edge may be hollow.
                assert!(in_land < 0.3 * land.area(), "land {in_land}\n{text}");
                assert!(in_gate > 0.5 * gate.area(), "gate {in_gate}\n{text}");
            } else {
                assert!(in_land + in_gate < 1e-6, "{in_land} {in_gate}\n{text}");
            }
        }
    }
    let foot = Region::simple(shapes::circle(feed.sprue_large).expect("a foot"));
    for part in &parts {
        let met = area(&foot.intersection(part).expect("areas"));
        if feed.runs.is_empty() {
            assert!((met - foot.area()).abs() < 1e-6, "{met}\n{text}");
        } else {
            assert!(met < 1e-9, "{met}\n{text}");
        }
    }
    one_body(d, text);
}

fn one_body(d: &Design, text: &str) {
    let shot = shot_solid(d, &Tolerance::with_chord(0.05))
        .unwrap_or_else(|e| panic!("{e}\n{text}"))
        .expect("a shot");
    assert_eq!(bodies(&shot), 1, "{text}");
}

#[test]
fn every_shape_in_every_direction_is_fed_as_one_body() {
    let mut k = 0u32;
    for shape in SHAPES {
        for size in [24.0, 60.0, 110.0] {
            for quarters in 0..4 {
                k += 1;
                // All numbers of cavities come to every shape.
                let cavities = 1 + (k + k / 4) % 4;
                let thickness = [1.5, 3.0, 6.0][k as usize % 3];
                let points = turned(&corners(shape, size), quarters);
                let text = plate(&path(&points), thickness, cavities, "", "");
                holds(&designed(&text), &text);
            }
        }
    }
}

#[test]
fn rings_are_fed_from_within_where_the_sprue_finds_room() {
    for (outer, inner) in [(100.0, 70.0), (60.0, 40.0), (50.0, 12.0), (30.0, 26.0)] {
        let ring = format!("{{ shape = \"circle\", diameter = {outer} }}");
        let hole = format!("[[part.hole]]\nat = [0, 0]\ndiameter = {inner}\n");
        for cavities in 1..=4 {
            let text = plate(&ring, 3.0, cavities, &hole, "");
            let d = designed(&text);
            holds(&d, &text);
            let within = d.cavities[0].at.coords.norm() < 0.5 * inner;
            // Sprue, its metal, runner and land on one side: about 12 mm. Into the wall of 2 mm of
            // the narrow ring only a smaller gate than the usual one opens.
            assert_eq!(within, cavities == 1 && inner >= 26.0, "{text}");
            assert!(d.whole_shot, "{text}");
        }
    }
}

#[test]
fn a_sprue_stands_in_the_bay_of_a_wide_u_and_a_small_mold_is_enough() {
    let text = plate(&path(&corners("U", 100.0)), 3.0, 1, "", "");
    let d = designed(&text);
    holds(&d, &text);
    // The bay is 50 wide: the plates are no larger than the part and its walls ask for.
    let plate = d.plates[0].outline.bounds();
    assert!(
        plate.width().max(plate.height()) < 100.0 * 1.024 + 2.0 * 18.0 + 30.0,
        "{plate:?}"
    );
}

/// An outline with corners at random radii, as random as it may be without crossing itself.
fn rough() -> impl Strategy<Value = Vec<P2>> {
    (
        prop::collection::vec((0.25..1.0f64, -0.35..0.35f64), 3..12),
        12.0..60.0f64,
    )
        .prop_map(|(spokes, size)| {
            let n = spokes.len() as f64;
            let round = |v: f64| (v * 1000.0).round() / 1000.0;
            spokes
                .iter()
                .enumerate()
                .map(|(k, (r, off))| {
                    let a = 2.0 * PI * (k as f64 + off) / n;
                    (round(size * r * a.cos()), round(size * r * a.sin()))
                })
                .collect()
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]
    /// Any outline: fed as one body that is not cut, or a stop that says why.
    #[test]
    fn random_outlines_are_fed_or_stopped(
        points in rough(), cavities in 1u32..=4, thickness in 1.0..8.0f64, direct in any::<bool>(),
    ) {
        let feed = if direct { "" } else { "[feed]\ndirect = false" };
        let text = plate(&path(&points), (thickness * 10.0).round() / 10.0, cavities, "", feed);
        let job = spec::read(&text).expect("a job");
        // Some outlines are refused as parts.
        if let Ok(d) = design(&job, "x", &Hints::default()) {
            let stopped = d.findings.iter().any(|f| f.level == Level::Stop && f.code.as_str() == "gate-misses-cavity");
            prop_assert_eq!(d.whole_shot, !stopped, "{}", &text);
            if d.whole_shot {
                holds(&d, &text);
            }
        }
    }
}

fn refused(text: &str) -> (String, String) {
    let job = spec::read(text).unwrap_or_else(|e| panic!("{:?}", e.0));
    let errors = design(&job, "x", &Hints::default()).expect_err("must be refused");
    (errors.0[0].code.to_owned(), errors.0[0].remedy.clone())
}

/// What a message says to write is tried.
fn cured(text: &str, line: &str, remedy: &str) {
    let (key, value) = remedy.split_once(" = ").expect("a key and its value");
    let value = value
        .split(" has")
        .next()
        .unwrap()
        .split(';')
        .next()
        .unwrap();
    let name = key.rsplit('.').next().unwrap();
    let cure = text.replace(line, &format!("{name} = {value}"));
    assert_ne!(cure, text);
    holds(&designed(&cure), &cure);
}

#[test]
fn a_given_place_is_obeyed_or_refused_with_one_that_works() {
    let l = path(&corners("L", 60.0));
    // On an edge: there the gate is.
    for at in ["[60, 7]", "[7, 60]", "[30, 0]", "[0, 41.3]", "[40, 15]"] {
        let text = plate(&l, 3.0, 1, "", &format!("[feed]\nat = {at}"));
        let d = designed(&text);
        holds(&d, &text);
        let run = &d.feed.as_ref().unwrap().runs[0];
        let entry = d.cavities[0].back(run.entry);
        let want: Vec<f64> = at[1..at.len() - 1]
            .split(", ")
            .map(|v| v.parse().unwrap())
            .collect();
        let off = (entry - Point::new(want[0], want[1])).norm();
        assert!(off < 1e-9, "{at} {entry}");
    }
    // In the air, in the plastic, in a corner.
    for at in ["[40, 40]", "[30, 7]", "[-9, -9]", "[15, 15]"] {
        let line = format!("at = {at}");
        let text = plate(&l, 3.0, 1, "", &format!("[feed]\ndirect = false\n{line}"));
        let (code, remedy) = refused(&text);
        assert!(
            code == "gate-off-edge" || code == "gate-has-no-room",
            "{at} {code}"
        );
        cured(&text, &line, &remedy);
    }
    // A spacing that leaves no room names one that does; one step less would not.
    let line = "spacing = 30";
    let text = plate(&l, 3.0, 3, "", line);
    let (code, remedy) = refused(&text);
    assert_eq!(code, "cavities-too-close");
    cured(&text, line, &remedy);
    // A sprue in the air over an L's bay.
    let line = "at = [40, 40]";
    let text = plate(&l, 3.0, 1, "", &format!("[feed]\ndirect = true\n{line}"));
    let (code, remedy) = refused(&text);
    assert_eq!(code, "sprue-misses-part");
    cured(&text, line, &remedy);
}

/// A plate part as a mesh, turned.
fn as_mesh(text: &str, turn: &Rotation3<f64>) -> Vec<u8> {
    let part = designed(text).part.expect("a part");
    let mesh = part_solid(&part, &Tolerance::with_chord(0.05)).expect("a solid");
    let mut out = "solid body\n".to_owned();
    for t in &mesh.triangles {
        out += "facet normal 0 0 0\nouter loop\n";
        for i in t {
            let p = turn * mesh.points[*i as usize];
            // As an STL file's 32-bit numbers.
            let _ = writeln!(out, "vertex {} {} {}", p.x as f32, p.y as f32, p.z as f32);
        }
        out += "endloop\nendfacet\n";
    }
    (out + "endsolid\n").into_bytes()
}

fn mesh_job(cavities: u32, more: &str) -> String {
    format!(
        "[job]\nname = \"x\"\n[plastic]\nkind = \"PP\"\n[machine]\nstroke = 300\n[nozzle]\nthread = \"G 1/4\"\n[output]\nfill = \"off\"\n[mold]\ncavities = {cavities}\n[part.mesh]\nfile = \"a.stl\"\nunit = \"mm\"\n{more}\n"
    )
}

fn of_mesh(text: &str, bytes: &[u8]) -> Design {
    let job = pipeline::read(text.as_bytes(), &|_| Ok(bytes.to_vec()))
        .unwrap_or_else(|e| panic!("{e:?}"));
    design(&job, "x", &Hints::default()).unwrap_or_else(|e| panic!("{text}\n{:?}", e.0))
}

#[test]
fn the_same_shapes_from_mesh_files_are_fed_as_one_body() {
    for (k, shape) in SHAPES.into_iter().enumerate() {
        let size = [36.0, 70.0][k % 2];
        let text = plate(&path(&corners(shape, size)), 3.0, 1, "", "");
        for quarters in 0..4 {
            let turn =
                Rotation3::from_axis_angle(&Vector3::z_axis(), 0.5 * PI * f64::from(quarters));
            let bytes = as_mesh(&text, &turn);
            let cavities = 1 + (k as u32 + quarters) % 4;
            let job = mesh_job(cavities, "");
            let d = of_mesh(&job, &bytes);
            let words = format!("{shape} {quarters} {cavities}");
            assert!(d.whole_shot, "{words} {:?}", d.findings);
            one_body(&d, &words);
        }
    }
}

#[test]
fn a_tilted_mesh_is_laid_on_its_flat_face() {
    let bodies = [
        plate(
            "{ shape = \"rectangle\", width = 60, height = 36 }",
            3.0,
            1,
            "",
            "",
        ),
        plate(
            "{ shape = \"circle\", diameter = 40 }",
            5.0,
            1,
            "[[part.hole]]\nat = [9, 0]\ndiameter = 8\n",
            "",
        ),
        plate(&path(&corners("L", 60.0)), 4.0, 1, "", ""),
    ];
    let code = |d: &Design, code: &str| d.findings.iter().any(|f| f.code.as_str() == code);
    for (k, text) in bodies.iter().enumerate() {
        let thickness = [3.0, 5.0, 4.0][k];
        for (j, tilt) in [0.0, 0.01, 0.1, 0.3, 0.5, 0.8].into_iter().enumerate() {
            // About any line in the plan, and turned about the pull.
            let about = Rotation3::from_axis_angle(&Vector3::z_axis(), 0.7 * (k + j) as f64);
            let axis = about * Vector3::x_axis();
            let turn = Rotation3::from_axis_angle(&axis, f64::to_radians(tilt)) * about.inverse();
            let bytes = as_mesh(text, &turn);
            let d = of_mesh(&mesh_job(1, ""), &bytes);
            let words = format!("body {k} tilted by {tilt}");
            assert!(d.whole_shot, "{words} {:?}", d.findings);
            one_body(&d, &words);
            let part = d.part.as_ref().unwrap().bodies[0].form.extent();
            assert!(
                (part.high - part.low - thickness).abs() < 2e-3,
                "{words} {part:?}"
            );
            assert_eq!(
                code(&d, "mesh-laid-flat"),
                tilt > 0.0 && tilt < 0.6,
                "{words} {:?}",
                d.findings
            );
            assert_eq!(code(&d, "mesh-turned"), tilt > 0.6, "{words}");
            // A given direction is kept and the tilt is said; what does not meet stops.
            let d = of_mesh(&mesh_job(1, "up = \"+z\""), &bytes);
            assert_eq!(
                code(&d, "mesh-tilted"),
                tilt > 0.0,
                "{words} {:?}",
                d.findings
            );
            let part = d.part.as_ref().unwrap().bodies[0].form.extent();
            assert!(
                tilt < 0.05 || part.high - part.low > thickness + 0.01,
                "{words}"
            );
            if d.whole_shot {
                one_body(&d, &words);
            } else {
                assert!(d.findings.iter().any(|f| f.level == Level::Stop), "{words}");
            }
        }
    }
}

#[test]
fn a_part_turned_to_open_says_what_it_costs() {
    // A plate on its edge.
    let text = plate(
        "{ shape = \"rectangle\", width = 60, height = 36 }",
        3.0,
        1,
        "",
        "",
    );
    let bytes = as_mesh(
        &text,
        &Rotation3::from_axis_angle(&Vector3::x_axis(), 0.5 * PI),
    );
    let d = of_mesh(&mesh_job(1, ""), &bytes);
    let said = d
        .findings
        .iter()
        .find(|f| f.code.as_str() == "mesh-turned")
        .expect("said");
    assert_eq!(said.level, Level::Warn);
    assert!(
        said.what.contains("33 mm less of plate depth"),
        "{}",
        said.what
    );
}
