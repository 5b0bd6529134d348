use super::*;
use crate::data::PipeFamily;
use crate::solid::plate_solid;

/// The one plate of an adaptor's file, and its thread.
fn plate(thread: &str, extra: &str) -> (Plate, PipeThread) {
    let text = format!(
        "[job]\nname = \"gauge\"\nkind = \"adaptor\"\n[machine]\nbarrel_bore = 26\nstroke = 120\n\
         hand_force = 250\nlever_ratio = 10\n[nozzle]\nthread = \"{thread}\"\n[adaptor]\n\
         pattern = {{ pattern = \"circle\", count = 4, diameter = 76 }}\nthickness = 40\n{extra}"
    );
    let job = crate::spec::read_bytes(text.as_bytes()).expect("a file");
    let design = crate::design::design(&job, "gauge", &Default::default()).expect("a design");
    let thread = PipeThread::parse(thread).expect("a thread");
    (design.plates[0].clone(), thread)
}

fn run<'a>(form: &'a PipeForm, family: PipeFamily, length: Option<f64>) -> Run<'a> {
    Run {
        form,
        turn: turn(
            family.row().profile,
            form.pitch,
            &Tolerance::with_chord(1e-4),
        ),
        face: 0.0,
        inward: -1.0,
        length,
        core: form.minor / 2.0 - 1.5,
        at: Point::origin(),
        span: (-20.0, 1.0),
    }
}

/// Major and minor diameter and height of the profile against the tables' rows.
#[test]
fn the_profile_is_that_of_the_standards_table() {
    for family in PipeFamily::ALL {
        for size in crate::data::pipe::sizes() {
            let thread = PipeThread {
                family,
                size: size.to_owned(),
            };
            let form = thread.form().expect("a row");
            let run = run(&form, family, None);
            let (low, high) = run
                .turn
                .iter()
                .fold((0.0f64, 0.0f64), |(a, b), p| (a.min(p.1), b.max(p.1)));
            // The rows are rounded to a thousandth in diameter.
            let near =
                |relative: f64, row: f64| (form.pitch_dia + 2.0 * relative - row).abs() < 2e-3;
            assert!(
                near(high, form.major) && near(low, form.minor),
                "{thread}: {low} {high}"
            );
            // Ridge and groove are equally wide on the pitch line.
            for share in [0.25, 0.75] {
                assert!(run.relative(share).abs() < 1e-9 * form.pitch, "{thread}");
            }
            // Flank angle: 27.5° or 30° from square to the axis.
            let slope = (run.relative(0.26) - run.relative(0.24)) / (0.02 * form.pitch);
            let half = if family == PipeFamily::Npt {
                30.0f64
            } else {
                27.5
            };
            assert!(
                (slope + 1.0 / half.to_radians().tan()).abs() < 1e-4,
                "{thread}: {slope}"
            );
        }
    }
}

/// A parallel thread's tool over whole turns: ∬ r²/2 (a body swept about its axis).
#[test]
fn the_tool_has_the_volume_of_its_integral() {
    let (mut plate, thread) = plate("G 1/2", "");
    plate.z_high = plate.z_low + 12.0;
    let form = thread.form().expect("a row");
    let fine = Tolerance::with_chord(4e-3);
    let bore = [
        (0.0, form.minor / 2.0 - 0.5),
        (plate.thickness(), form.minor / 2.0 - 0.5),
    ];
    let run = Run {
        face: plate.z_high,
        turn: turn(thread.family.row().profile, form.pitch, &fine),
        span: heights(&plate, &form, (plate.z_high, -1.0, None)),
        ..run(&form, thread.family, None)
    };
    let tool = tool(&run, &fine).expect("a tool");
    crate::solid::audit(&tool, &fine).expect("sound");
    let stock = crate::solid::stock_solid(&plate, &fine).expect("stock");
    let within = crate::solid::boolean::intersection(&stock, &tool).expect("a piece");
    // Mean of r² by hand: straight flanks and round tips of the 55° form between ±0.3201635 P.
    let groove = groove_volume(&run, &bore);
    let mean = form.pitch_dia / 2.0;
    let inner = form.minor / 2.0 - 0.5;
    // r = mean + p with mean p = 0. A quarter of a turn of the 55° form: a straight flank up to
    // its tangent point, then a circle of radius ρ about c; ∫ p² in closed form, per P².
    let (rho, half) = (0.137329f64, 27.5f64.to_radians());
    let (a, c) = (rho * half.cos(), 0.3201635 - rho);
    let flank = (0.25 - a).powi(3) / 3.0 / half.tan().powi(2);
    let circle = 0.5 * (a * (rho * rho - a * a).sqrt() + rho * rho * (a / rho).asin());
    let tip = c * c * a + 2.0 * c * circle + rho * rho * a - a.powi(3) / 3.0;
    let wave = PI * 4.0 * (flank + tip) * form.pitch.powi(2) * plate.thickness();
    let core = PI * (mean * mean - inner * inner) * plate.thickness();
    // The tips' chords take up to 3 % of the wave's part.
    let off = (groove - core) / wave - 1.0;
    assert!((-0.03..0.001).contains(&off), "{off}");
    let swept = within.volume() - PI * inner * inner * plate.thickness();
    // Two thirds of a chord error on a wall of π d × thickness, and rounding.
    let chords = PI * form.major * plate.thickness() * fine.chord;
    assert!(
        swept < groove + 0.1 && swept > groove - 1.5 * chords,
        "{swept} {groove}"
    );
}

#[test]
fn every_family_through_and_blind() {
    let tolerance = Tolerance::with_chord(0.02);
    for name in ["G 1/2", "Rp 1/2", "Rc 1/2", "NPT 1/2", "Rc 1/8", "NPT 1"] {
        for extra in ["", "bore = 4\n"] {
            let (plate, thread) = plate(name, extra);

            let plain = plate_solid(&plate, &tolerance).expect("a plate");
            match with_threads(&plate, &plain, std::slice::from_ref(&thread), &tolerance) {
                Ok(Some(cut)) => assert!(cut.volume() < plain.volume() - 10.0),
                other => panic!("{name} {extra}: {:?}", other.map(|_| ())),
            }
        }
    }
}

#[test]
fn absurd_sizes_are_refused_before_they_are_made() {
    let (mut plate, thread) = plate("G 1/8", "");
    let plain = plate_solid(&plate, &Tolerance::default()).expect("a plate");
    plate.z_high = 5000.0;
    let made = with_threads(
        &plate,
        &plain,
        std::slice::from_ref(&thread),
        &Tolerance::default(),
    );
    assert!(matches!(made, Err(SolidError::TooLarge { .. })));
}

/// A male end: crest and root where the tables put them, and the same thread right-handed as the
/// hole's (the audit proves its volume).
#[test]
fn an_external_thread_has_crest_and_root_of_its_row() {
    for (hole, crest, root) in [
        // ISO 228-1: G 3/4 26.441 and 24.117; ISO 7-1 R 1/2 at its small end 20.442 and 18.118.
        ("G 3/4", 26.441, 24.117),
        ("Rc 1/2", 20.442, 18.118),
    ] {
        let text = format!(
            "[job]\nkind = \"reducer\"\n[nozzle]\nthread = \"G 1/2\"\n[reducer]\n\
             outlet = {{ end = \"male\", thread = \"{hole}\" }}\n[shop]\nmachines = [\"lathe\"]\n"
        );
        let job = crate::spec::read_bytes(text.as_bytes()).expect("a file");
        let design = crate::design::design(&job, "gauge", &Default::default()).expect("a design");
        let plate = &design.plates[0];
        let tolerance = Tolerance::with_chord(0.01);
        let plain = plate_solid(plate, &tolerance).expect("a solid");
        let thread = PipeThread::parse(hole).expect("a thread");
        let made = with_threads(plate, &plain, std::slice::from_ref(&thread), &tolerance);
        let made = made.expect("sound").expect("a thread");
        assert!(made.volume() < plain.volume() - 100.0, "{hole}");
        let outside = plate.features.iter().find_map(|f| match &f.shape {
            Shape::Outside(o) if f.face == Face::Low => Some(o),
            _ => None,
        });
        let own = OutsideThread::mate_of(&thread);
        let (_, [from, to]) = outside.unwrap().threaded(&own).unwrap();
        // Between two whole turns in the middle of the thread.
        let form = own.form().unwrap();
        let middle = 0.5 * (from + to);
        let near =
            |p: &&Point3| (p.z - middle).abs() < 0.5 * form.pitch && p.x.hypot(p.y) > 0.4 * root;
        let radii: Vec<f64> = made
            .points
            .iter()
            .filter(near)
            .map(|p| p.x.hypot(p.y))
            .collect();
        let grown = form.taper * (middle - from);
        let (low, high) = radii
            .iter()
            .fold((f64::INFINITY, 0.0f64), |(a, b), r| (a.min(*r), b.max(*r)));
        let within = 0.5 * form.pitch * form.taper + 0.03;
        assert!(
            (2.0 * high - crest - grown).abs() < within,
            "{hole}: {high} {grown}"
        );
        assert!(
            (2.0 * low - root - grown).abs() < within,
            "{hole}: {low} {grown}"
        );
    }
}
