// What is done to sheets to see the proof notice; text of this file stands in the tests that use it.

/// What can be wrong with a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Sabotage {
    Dropped,
    Doubled,
    Shifted([f64; 2]),
    Larger,
}

fn shifted(m: &mut Motion, by: [f64; 2]) {
    let shift = |p: &mut Point| *p = Point::new(p.x + by[0], p.y + by[1]);
    match m {
        Motion::Axis { at, .. }
        | Motion::Bore { at, .. }
        | Motion::Undercut { at, .. }
        | Motion::Neck { at, .. } => shift(at),
        Motion::Clear { centres, .. } => *centres = centres.moved(by),
        Motion::Ball { path, .. } => path.iter_mut().for_each(shift),
        Motion::Outline { keep } => *keep = keep.moved(by),
        Motion::Through { area } => *area = area.moved(by),
    }
}

/// The next size: drills and reamers by tenths, end mills by halves.
fn larger(m: &mut Motion) {
    match m {
        Motion::Axis { shape, .. } => {
            for p in shape.iter_mut().filter(|p| p[0] > 0.0) {
                p[0] += 0.05;
            }
        }
        Motion::Clear { radius, .. } | Motion::Ball { radius, .. } => *radius += 0.25,
        Motion::Undercut { radius, .. } | Motion::Neck { radius, .. } => *radius += 0.05,
        Motion::Bore { section, .. } if upright(section) => {
            for p in section.iter_mut().filter(|p| p[0] > 0.0) {
                p[0] += 0.05;
            }
        }
        Motion::Bore { .. } | Motion::Outline { .. } | Motion::Through { .. } => {}
    }
}

/// Whether a section that is turned has a cylinder.
fn upright(section: &[[f64; 2]]) -> bool {
    section.windows(2).any(|w| w[0][0] == w[1][0] && (w[0][1] - w[1][1]).abs() > 0.5)
}

/// Axis and largest radius of what turns about one.
fn widest(m: &Motion) -> Option<(Point, f64)> {
    let (at, shape) = match m {
        Motion::Axis { at, shape } => (at, shape),
        Motion::Bore { at, section } => (at, section),
        _ => return None,
    };
    Some((*at, shape.iter().map(|p| p[0]).fold(0.0, f64::max)))
}

/// Whether a later operation on the same axis takes all that this one takes and `by` mm around it:
/// then nothing can be seen of it.
fn taken_later(o: &Operation, later: &[Operation], by: f64) -> bool {
    let all = |o: &Operation| o.motions.iter().filter_map(widest).collect::<Vec<_>>();
    let own = all(o);
    let wider = |(at, r): &(Point, f64)| {
        let mut after = later.iter().filter(|l| l.face == o.face).flat_map(all);
        after.any(|(a, w)| (a - at).norm() < 1e-6 && w >= r + by)
    };
    !own.is_empty() && own.len() == o.motions.len() && own.iter().all(wider)
}

/// A sheet with one operation spoilt; none where it does not apply.
fn spoilt(sheet: &PlatePlan, k: usize, how: Sabotage) -> Option<PlatePlan> {
    let mut out = sheet.clone();
    let o = &mut out.operations[k];
    match how {
        Sabotage::Dropped => {
            out.operations.remove(k);
        }
        Sabotage::Doubled => {
            let again = o.clone();
            out.operations.insert(k, again);
        }
        // Facing goes beyond the plate all around.
        Sabotage::Shifted(_) if o.kind == Kind::Face => return None,
        // A centre drill, and what a taper is reamed into.
        Sabotage::Shifted(_) if o.kind == Kind::Spot && taken_later(o, &sheet.operations[k + 1..], 0.3) => {
            return None;
        }
        Sabotage::Larger
            if o.kind == Kind::Counterbore && taken_later(o, &sheet.operations[k + 1..], 0.05) =>
        {
            return None;
        }
        Sabotage::Shifted(by) => o.motions.iter_mut().for_each(|m| shifted(m, by)),
        Sabotage::Larger => {
            // What a wider tool takes after it, on the same axis, tells nothing of this one; a
            // countersink, a taper and a form tool are set by their depth.
            let later = &sheet.operations[k + 1..];
            let followed = matches!(o.kind, Kind::Spot | Kind::Pilot)
                || o.kind == Kind::Drill && later.iter().any(|l| {
                    matches!(l.kind, Kind::Ream | Kind::TaperReam | Kind::PipeReam | Kind::Drill)
                        && l.tags.iter().any(|t| o.tags.contains(t))
                });
            let form = o.motions.iter().any(|m| matches!(m, Motion::Axis { shape, .. } if shape.len() > 3));
            let by_depth = form || matches!(o.kind, Kind::Countersink | Kind::TaperReam | Kind::PipeReam);
            let has_size = o.motions.iter().any(|m| {
                matches!(m, Motion::Axis { .. } | Motion::Ball { .. } | Motion::Undercut { .. } | Motion::Neck { .. })
                    || matches!(m, Motion::Bore { section, .. } if upright(section))
                    || matches!(m, Motion::Clear { radius, .. } if *radius > 0.0)
            });
            if followed || by_depth || !has_size {
                return None;
            }
            o.motions.iter_mut().for_each(larger);
        }
    }
    (out != *sheet).then_some(out)
}
