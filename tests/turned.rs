//! Turned parts from the parameter file to audited solids: cups, wheels, lids, pots, knobs.
//!
//! Every solid is audited on the way (closed, oriented, no self-crossing, right volume), so a
//! run that succeeds is half of each test; the other half are volumes from the definition.

use platewright::base::Diagnostic;
use platewright::design::{Design, HoleStep, Purpose, Shape, Side};
use platewright::part::{Form, Role};
use platewright::pipeline;
use platewright::process::developed;
use platewright::solid::{Tolerance, part_solid, plate_solid, shot_solid};

fn job(part: &str) -> String {
    format!(
        "[job]\nname = \"t\"\n[plastic]\nkind = \"PP\"\n[machine]\nbarrel_bore = 26\nstroke = 120\nhand_force = 250\nlever_ratio = 10\n[nozzle]\nthread = \"G 1/2\"\n[output]\nfill = \"off\"\nchord_tolerance = 0.2\n{part}"
    )
}

/// The design and the volumes of its audited solids, mm³.
struct Made {
    design: Design,
    volumes: Vec<(String, f64)>,
}

impl Made {
    fn volume(&self, name: &str) -> f64 {
        let found = self.volumes.iter().find(|v| v.0 == name);
        found.expect("a solid of this name").1
    }
}

fn check(part: &str) -> Made {
    let job = platewright::spec::read_bytes(job(part).as_bytes()).expect("a job");
    let design = platewright::design::design(&job, "t", &Default::default()).expect("a design");
    let tolerance = Tolerance::with_chord(0.2);
    let mut volumes: Vec<(String, f64)> = design
        .plates
        .iter()
        .map(|p| {
            (
                p.name.clone(),
                plate_solid(p, &tolerance).expect("a plate").volume(),
            )
        })
        .collect();
    let model = design.part.as_ref().expect("a part");
    let part = part_solid(model, &tolerance).expect("a part").volume();
    let shot = shot_solid(&design, &tolerance)
        .expect("a shot")
        .expect("melt")
        .volume();
    volumes.extend([("part".to_owned(), part), ("shot".to_owned(), shot)]);
    Made { design, volumes }
}

fn faults(part: &str) -> Vec<Diagnostic> {
    let job = match platewright::spec::read_bytes(job(part).as_bytes()) {
        Ok(job) => job,
        Err(d) => return d.0,
    };
    match pipeline::decide(&job, "t") {
        Ok(_) => panic!("not refused"),
        Err(d) => d.0,
    }
}

fn refused(part: &str) -> String {
    faults(part).into_iter().map(|d| d.message).collect()
}

/// What would be right.
fn remedies(part: &str) -> String {
    faults(part).into_iter().map(|d| d.remedy).collect()
}

/// The number that stands after some words.
fn number_after(text: &str, words: &str) -> f64 {
    let (_, rest) = text.split_once(words).unwrap_or_else(|| panic!("{text}"));
    let number = rest.split(' ').next().unwrap_or_default();
    number.parse().unwrap_or_else(|e| panic!("{text}: {e}"))
}

/// Volumes of the turned bodies of every cavity (positive) and core (negative), mm³.
fn turned(design: &Design) -> f64 {
    let bodies = |s: &Shape| match s {
        Shape::Cavity(i) => Some((1.0, i.bodies.clone())),
        Shape::Core(i) => Some((-1.0, i.bodies.clone())),
        _ => None,
    };
    design
        .plates
        .iter()
        .flat_map(|p| &p.features)
        .filter_map(|f| bodies(&f.shape))
        .flat_map(|(sign, b)| b.into_iter().map(move |(role, form)| (sign, role, form)))
        .filter(|(_, role, form)| *role == Role::Add && matches!(form, Form::Revolved { .. }))
        .map(|(sign, _, form)| sign * form.volume().expect("a volume"))
        .sum()
}

fn identity(design: &Design) {
    let part = &design.part.as_ref().expect("a part").bodies[0].form;
    let scale = design.cavities[0].scale.powi(3) * design.cavities.len() as f64;
    let (want, got) = (scale * part.volume().expect("a volume"), turned(design));
    assert!((got - want).abs() < 1e-9 * want, "{got} {want}");
}

const CUP: &str = "[part.profile]\nstart = [0, 0]\nsteps = [{ to = [15, 0], fillet = 4 }, { to = [17, 30] }]\nwall = 2\n";

#[test]
fn a_cup_has_a_bolted_core() {
    let made = check(CUP);
    identity(&made.design);
    let names: Vec<&str> = made.design.plates.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, ["plate-a", "plate-b", "core"]);
    let core = made.volume("core");
    // Between its smallest and largest cylinder, spigot and hole aside.
    assert!(
        core > 28.0 * 3.1 * 13.0 * 13.0 && core < 60.0 * 3.2 * 15.5 * 15.5,
        "{core}"
    );
}

#[test]
fn the_screw_of_a_core_has_metal_under_its_head() {
    for (radius, tall) in [(10.0, 14.0), (14.0, 20.0), (22.0, 30.0), (35.0, 50.0)] {
        let part = format!(
            "[mold]\ncore = \"bolted\"\n[part]\nprofile = {{ start = [0, 0], steps = [{{ to = [{radius}, 0] }}, {{ to = [{}, {tall}] }}, {{ to = [{}, {tall}] }}, {{ to = [{}, 2] }}, {{ to = [0, 2] }}] }}\n",
            radius + 2.0,
            radius + 0.2,
            radius - 1.8,
        );
        let made = check(&part);
        let b = made.design.plates.iter().find(|p| p.side == Side::B);
        let b = b.expect("a B plate");
        let seat = b.features.iter().find_map(|f| match &f.shape {
            Shape::Pocket { depth, .. } if f.purpose == Purpose::CoreSeat => Some(*depth),
            _ => None,
        });
        let head = b.features.iter().find_map(|f| match &f.shape {
            Shape::Hole(h) if f.purpose == Purpose::CoreScrew => {
                h.steps.iter().find_map(|s| match s {
                    HoleStep::Counterbore { dia, depth } => Some((*dia, *depth)),
                    _ => None,
                })
            }
            _ => None,
        });
        let (seat, (dia, head)) = seat.zip(head).expect("a seat and a screw");
        // A head of ISO 4762 is 1.5 to 1.8 times its screw across, its bore 1.8 to 2 times.
        let under = b.thickness() - seat - head;
        assert!(
            under >= 0.25 * dia,
            "{radius}: {under} mm under a bore of {dia} mm"
        );
    }
}

#[test]
fn a_core_in_one_piece_with_the_plate_is_the_same_core() {
    let bolted = check(CUP);
    let turned = check(&format!("{CUP}[mold]\ncore = \"turned\"\n"));
    identity(&turned.design);
    assert_eq!(turned.design.plates.len(), 2);
    assert!((bolted.volume("shot") - turned.volume("shot")).abs() < 20.0);
    assert!(
        turned
            .design
            .plates
            .iter()
            .any(|p| p.side == Side::B && p.standing() > 28.0)
    );
}

#[test]
fn the_part_and_its_mold_agree_in_volume() {
    // The solid of the shot holds the part scaled, and a sprue of known bounds.
    let made = check(CUP);
    // Finer than elsewhere: at a chord of 0.2 mm the cup's own chords are a hundredth of it.
    let fine = Tolerance::with_chord(0.02);
    let model = made.design.part.as_ref().expect("a part");
    let part = part_solid(model, &fine).expect("a part").volume();
    let shot = shot_solid(&made.design, &fine).expect("a shot");
    let shot = shot.expect("a mold has one").volume();
    let scaled = part * made.design.cavities[0].scale.powi(3);
    let feed = made.design.feed.as_ref().expect("a feed");
    let sprue = std::f64::consts::PI / 12.0
        * feed.sprue_length
        * (feed.sprue_small.powi(2)
            + feed.sprue_small * feed.sprue_large
            + feed.sprue_large.powi(2));
    assert!(
        (shot - scaled - sprue).abs() < 0.01 * shot,
        "{shot} {scaled} {sprue}"
    );
}

#[test]
fn pots_knobs_lids_and_wheels_are_sound() {
    let all = [
        // Flower pot with five drain holes in its base, text sunk into the base.
        format!("{CUP}\n[[part.hole]]\nat = [7, 0]\ndiameter = 3\n[[part.hole]]\nat = [-7, 0]\ndiameter = 3\n[feed]\ndirect = false\n"),
        format!("{CUP}\n[[part.feature]]\nkind = \"text\"\ntext = \"AB\"\nsize = 5\nside = \"top\"\nat = [0, 6]\nheight = 0.5\n"),
        format!("{CUP}\n[[part.feature]]\nkind = \"boss\"\ndiameter = 4\nside = \"bottom\"\nat = [6, 0]\nheight = 3\n"),
        // Knob: solid, round top, drawn all around.
        "[part.profile]\nstart = [0, 0]\nsteps = [{ to = [12, 0] }, { to = [13, 6], fillet = 2 }, { to = [0, 10] }]\n".to_owned(),
        // Dome by an arc.
        "[part.profile]\nstart = [0, 10]\nsteps = [{ to = [-0.0, 0] }, { to = [10, 0] }, { to = [0, 10], centre = [0, 0], turn = \"left\" }]\n".to_owned(),
        // Lid with a skirt.
        "[part.profile]\nstart = [0, 10]\nsteps = [{ to = [25, 10] }, { to = [26, 0] }, { to = [24.2, 0] }, { to = [23.5, 8] }, { to = [0, 8] }]\n".to_owned(),
        // Wheel with windows, two cavities.
        "[part]\ndraft = 2\n[part.profile]\nstart = [3.1, 0]\nsteps = [{ to = [6, 0] }, { to = [6.2, 4] }, { to = [15.8, 4] }, { to = [16, 1] }, { to = [19.7, 1] }, { to = [20, 5] }, { to = [19.7, 9] }, { to = [16, 9] }, { to = [15.8, 6] }, { to = [6.2, 6] }, { to = [6, 10] }, { to = [3.1, 10] }, { to = [3, 5] }]\n[[part.hole]]\nat = [11, 0]\ndiameter = 5\n[mold]\ncavities = 2\n".to_owned(),
        // Two cups: two cores.
        format!("{CUP}[mold]\ncavities = 2\n"),
    ];
    for (k, part) in all.iter().enumerate() {
        let made = check(part);
        identity(&made.design);
        let cores = made
            .design
            .plates
            .iter()
            .filter(|p| p.side == Side::Core)
            .count();
        assert_eq!(cores, [1, 1, 1, 0, 0, 1, 0, 2][k], "case {k}");
    }
}

#[test]
fn what_cannot_be_molded_is_refused_with_numbers() {
    let spool = "[part.profile]\nstart = [0, 0]\nsteps = [{ to = [20, 0] }, { to = [20, 3] }, { to = [10, 4] }, { to = [10, 16] }, { to = [20, 17] }, { to = [20, 20] }, { to = [0, 20] }]\n";
    assert!(refused(spool).contains("the metal between cannot be pulled out"));
    let over = format!("[part]\nturned_over = false\n{CUP}");
    assert!(refused(&over).contains("takes a core on the A plate"));
    assert!(remedies(&over).contains("part.turned_over = true"));
    let thin = CUP.replace("wall = 2", "wall = 5");
    assert!(
        refused(&thin).contains("does not fit inside this outside"),
        "{}",
        refused(&thin)
    );
    // What the message offers is taken.
    let fits = number_after(&remedies(&thin), "a wall of at most ");
    assert!(fits > 1.0 && fits < 5.0, "{fits}");
    check(&CUP.replace("wall = 2", &format!("wall = {fits}")));
    let beyond = "[part.profile]\nstart = [-3, 0]\nsteps = [{ to = [5, 0] }, { to = [5, 5] }]\n";
    assert!(refused(beyond).contains("beyond its axis"));
    let both = format!("[part]\nthickness = 3\n{CUP}");
    assert!(refused(&both).contains("thickness"));
    let off = format!(
        "{CUP}\n[[part.feature]]\nkind = \"text\"\ntext = \"AB\"\nsize = 5\nside = \"top\"\nat = [14, 0]\ndepth = 0.5\n"
    );
    let said = refused(&off);
    assert!(
        said.contains("the surface rises") || said.contains("beyond the part"),
        "{said}"
    );
}

#[test]
fn steep_walls_are_judged_by_formula_and_said_so() {
    let job = platewright::spec::read_bytes(job(CUP).as_bytes()).expect("a job");
    let design = platewright::design::design(&job, "t", &Default::default()).expect("a design");
    let walls = developed::steep_walls(&design).expect("steep walls");
    let choice = platewright::process::melt::choose(&design.plastic).expect("a melt");
    let d = developed::report(&design, &walls, &choice);
    // Base of 15 mm, wall of 30 mm, scaled by the shrinkage; 4 mm corner cut by the arc.
    assert!(d.length > 40.0 && d.length < 47.0, "{}", d.length);
    assert!(
        (d.thinnest - 2.0 * design.cavities[0].scale).abs() < 0.05,
        "{}",
        d.thinnest
    );
    let said = developed::judge(&d);
    assert!(said.iter().any(|f| f.code.as_str() == "fill-by-formula"));
    // A wall by itself is filled on its middle surface: vents stand at the rim.
    let rim = walls.way.last().expect("a way").radius;
    let vents = platewright::process::vents(&design, 4, &|_| true);
    assert!(!vents.is_empty());
    assert!(
        vents.iter().all(|v| v.coords.norm() > 0.85 * rim),
        "{vents:?} {rim}"
    );
}

#[test]
fn a_draft_acts_or_is_refused() {
    let disc = "[part.profile]\nstart = [0, 0]\nsteps = [{ to = [20, 0] }, { to = [20, 6] }, { to = [0, 6] }]\n";
    let pin = "[[part.feature]]\nkind = \"boss\"\nat = [0, 0]\ndiameter = 8\nheight = 3\nside = \"bottom\"\n";
    let with = |draft: f64, more: &str| format!("[part]\ndraft = {draft}\n{disc}{more}");
    // Nothing to act on: the walls of a profile stand as drawn.
    assert!(refused(&with(2.0, "")).contains("nothing to act on"));
    // A boss takes it: the frustum of r 4 and 4 − 3·tan(draft) over 3 mm.
    let volume = |draft: f64| check(&with(draft, pin)).volume("part");
    let frustum = |draft: f64| {
        let top = 4.0 - 3.0 * draft.to_radians().tan();
        std::f64::consts::PI * (16.0 + 4.0 * top + top * top)
    };
    let (less, more) = (volume(2.0) - volume(20.0), frustum(2.0) - frustum(20.0));
    // Both are measured with the hot cavity's size: a little larger, and with chords of 0.2 mm.
    assert!((less / more - 1.0).abs() < 0.08, "{less} {more}");
    // A letter does not survive 45°: said before solids are made.
    let letter = "[[part.feature]]\nkind = \"text\"\ntext = \"8\"\nsize = 6\nat = [0, 0]\nheight = 2\ndraft = 45\n";
    let said = refused(&format!("[part]\n{disc}{letter}"));
    assert!(said.contains("do not survive a draft of 45 deg"), "{said}");
    // What the message offers is taken: a draft, and a size of the letters.
    let offered = remedies(&format!("[part]\n{disc}{letter}"));
    let draft = number_after(&offered, "a draft of at most ");
    assert!(draft > 1.0 && draft < 45.0, "{offered}");
    let leaning = letter.replace("draft = 45", &format!("draft = {draft}"));
    check(&format!("[part]\n{disc}{leaning}"));
    let small = letter
        .replace("draft = 45", "draft = 20")
        .replace("height = 2", "height = 0.9");
    let size = number_after(
        &remedies(&format!("[part]\n{disc}{small}")),
        "letters of at least ",
    );
    assert!(size > 6.0 && size < 40.0, "{size}");
    let large = small.replace("size = 6", &format!("size = {size}"));
    let wide = disc
        .replace("[20, 0]", "[40, 0]")
        .replace("[20, 6]", "[40, 6]");
    check(&format!("[part]\n{wide}{large}"));
}
