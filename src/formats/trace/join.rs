//! Loose lines and curves joined end to end to loops.
//!
//! Input: chains in millimetres, in any order and direction; a tolerance. Output: closed
//! chains, the joints that had a gap, and the ends that nothing was near to.

use super::overlap::parted;
use super::sheet::Chain;
use platewright_sketch::Point;
use platewright_sketch::Stroke;
use std::collections::BTreeMap;

/// Ends nearer than this, mm, meet without being told.
pub(super) const MEET: f64 = 1e-4;

/// Two ends that were joined over a gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joint {
    /// Middle of the gap, mm.
    pub at: Point,
    /// Its width, mm.
    pub gap: f64,
}

/// What came of it.
#[derive(Debug, Default)]
pub(super) struct Joined {
    pub loops: Vec<Chain>,
    /// Chains that do not close.
    pub open: Vec<Chain>,
    pub joints: Vec<Joint>,
    /// The loose ends.
    pub loose: Vec<Point>,
    /// How many pieces lay on an equal one and were dropped.
    pub doubles: usize,
}

/// Joins chains whose ends are nearer than `tolerance`; the nearest first.
pub(super) fn join(chains: Vec<Chain>, tolerance: f64) -> Joined {
    let mut out = Joined::default();
    let mut open: Vec<Chain> = Vec::new();
    let chains = without_doubles(chains, &mut out.doubles);
    for chain in parted(chains, &mut out.doubles) {
        let (Some(first), Some(last)) = (chain.strokes.first(), chain.strokes.last()) else {
            continue;
        };
        let closes = (first.ends().0 - last.ends().1).norm() <= MEET;
        let flat = chain.strokes.len() == 1 && matches!(first, Stroke::Line(..));
        if closes && !flat {
            out.loops.push(chain);
        } else {
            open.push(chain);
        }
    }
    // End 2i is the start of chain i, end 2i + 1 its end.
    let ends: Vec<Point> = open
        .iter()
        .flat_map(|c| {
            let (a, b) = (c.strokes.first(), c.strokes.last());
            [a.map(|s| s.ends().0), b.map(|s| s.ends().1)]
        })
        .flatten()
        .collect();
    let partner = pairs(&ends, tolerance.max(MEET));
    let mut used = vec![false; open.len()];
    // Open chains from their loose ends first, then what is left are loops.
    let starts = (0..ends.len())
        .filter(|e| partner[*e].is_none())
        .chain(0..ends.len())
        .collect::<Vec<_>>();
    for start in starts {
        if used[start / 2] {
            continue;
        }
        let mut strokes: Vec<Stroke> = Vec::new();
        let mut end = start;
        let closed = loop {
            let i = end / 2;
            used[i] = true;
            let forward = end % 2 == 0;
            if forward {
                strokes.extend(open[i].strokes.iter().copied());
            } else {
                strokes.extend(open[i].strokes.iter().rev().map(Stroke::reversed));
            }
            let far = end ^ 1;
            match partner[far] {
                None => break false,
                Some(next) => {
                    let (p, q) = (ends[far], ends[next]);
                    let gap = (q - p).norm();
                    if gap > MEET {
                        out.joints.push(Joint {
                            at: p + (q - p) * 0.5,
                            gap,
                        });
                        strokes.push(Stroke::Line(p, q));
                    }
                    if used[next / 2] {
                        break true;
                    }
                    end = next;
                }
            }
        };
        let chain = Chain { strokes };
        if closed {
            out.loops.push(chain);
        } else {
            let tips = [
                chain.strokes.first().map(|s| s.ends().0),
                chain.strokes.last().map(|s| s.ends().1),
            ];
            out.loose.extend(tips.into_iter().flatten());
            out.open.push(chain);
        }
    }
    out
}

/// For each end the one it is joined to.
fn pairs(ends: &[Point], tolerance: f64) -> Vec<Option<usize>> {
    let cell = |v: f64| (v / tolerance).floor() as i64;
    let mut cells: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    for (i, p) in ends.iter().enumerate() {
        cells.entry((cell(p.x), cell(p.y))).or_default().push(i);
    }
    let mut near: Vec<(f64, usize, usize)> = Vec::new();
    for (i, p) in ends.iter().enumerate() {
        for dx in -1..=1 {
            for dy in -1..=1 {
                let Some(others) = cells.get(&(cell(p.x) + dx, cell(p.y) + dy)) else {
                    continue;
                };
                // Very many ends in one place are a knot that no choice can sort out.
                for j in others.iter().filter(|j| **j > i).take(64) {
                    let d = (ends[*j] - p).norm();
                    // A chain's two ends meet only when nothing else is nearer: last.
                    let own = if i / 2 == *j / 2 { tolerance } else { 0.0 };
                    if d <= tolerance {
                        near.push((d + own, i, *j));
                    }
                }
            }
        }
    }
    near.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut partner = vec![None; ends.len()];
    for (_, i, j) in near {
        if partner[i].is_none() && partner[j].is_none() {
            (partner[i], partner[j]) = (Some(j), Some(i));
        }
    }
    partner
}

/// Drops pieces drawn twice in the same place.
fn without_doubles(chains: Vec<Chain>, doubles: &mut usize) -> Vec<Chain> {
    let key = |p: Point| ((p.x / MEET).round() as i64, (p.y / MEET).round() as i64);
    let mut seen: std::collections::BTreeSet<Vec<(i64, i64)>> = Default::default();
    let mut kept = Vec::with_capacity(chains.len());
    for c in chains {
        // Ends and a point in between of each piece, in an order that the direction does not matter to.
        let mut places: Vec<(i64, i64)> = Vec::with_capacity(3 * c.strokes.len());
        for s in &c.strokes {
            let (p, q) = s.ends();
            let middle = match (s, s.segment()) {
                (Stroke::Curve(c), _) => c.at(0.5),
                (_, Some(seg)) => seg.point_at(0.5),
                _ => p,
            };
            places.extend([key(p), key(q), key(middle)]);
        }
        places.sort_unstable();
        if c.strokes.is_empty() {
            continue;
        }
        if seen.insert(places) {
            kept.push(c);
        } else {
            *doubles += 1;
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(a: (f64, f64), b: (f64, f64)) -> Chain {
        Chain {
            strokes: vec![Stroke::Line(Point::new(a.0, a.1), Point::new(b.0, b.1))],
        }
    }

    #[test]
    fn lines_in_any_order_and_direction_make_a_square() {
        let square = vec![
            line((0.0, 0.0), (10.0, 0.0)),
            line((0.0, 10.0), (0.0, 0.02)),
            line((10.0, 10.0), (10.0, 0.0)),
            line((10.0, 0.0), (10.0, 10.0)),
            line((10.0, 10.0), (0.0, 10.0)),
        ];
        let j = join(square.clone(), 0.05);
        assert_eq!((j.loops.len(), j.open.len(), j.doubles), (1, 0, 1));
        assert_eq!(j.joints.len(), 1);
        assert!((j.joints[0].gap - 0.02).abs() < 1e-12);
        let j = join(square, 0.01);
        assert_eq!((j.loops.len(), j.loose.len()), (0, 2));
    }

    #[test]
    fn lines_that_lie_on_one_another_in_part_count_once() {
        let square = |extra: Vec<Chain>| {
            let mut all = extra;
            all.extend([
                line((0.0, 0.0), (10.0, 0.0)),
                line((10.0, 0.0), (10.0, 10.0)),
                line((0.0, 10.0), (6.0, 10.0)),
                line((4.0, 10.0), (10.0, 10.0)),
                line((0.0, 10.0), (0.0, 0.0)),
            ]);
            join(all, 0.05)
        };
        for extra in [
            vec![],
            vec![line((2.0, 0.0), (5.0, 0.0))],
            vec![
                line((10.0, 0.0), (10.0, 3.0)),
                line((10.0, 7.0), (10.0, 2.0)),
            ],
        ] {
            let j = square(extra);
            assert_eq!((j.loops.len(), j.open.len()), (1, 0));
            let length: f64 = (j.loops[0].strokes.iter())
                .map(|s| (s.ends().1 - s.ends().0).norm())
                .sum();
            assert!((length - 40.0).abs() < 1e-9);
        }
        // A stub that sticks out is no outline.
        assert_eq!(square(vec![line((8.0, 0.0), (12.0, 0.0))]).loops.len(), 0);
    }

    #[test]
    fn arcs_of_one_circle_that_overlap_make_it_whole() {
        let arc = |from: f64, to: f64| {
            let at = |a: f64| Point::new(5.0 * a.to_radians().cos(), 5.0 * a.to_radians().sin());
            Chain {
                strokes: vec![Stroke::Arc(
                    at(from),
                    at(to),
                    (0.25 * (to - from).to_radians()).tan(),
                )],
            }
        };
        let j = join(
            vec![arc(0.0, 150.0), arc(90.0, 250.0), arc(240.0, 360.0)],
            0.05,
        );
        assert_eq!((j.loops.len(), j.open.len()), (1, 0));
    }
}
