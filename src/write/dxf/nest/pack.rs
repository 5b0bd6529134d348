//! Rectangles in rows on sheets, each as it is or turned by a quarter.
//!
//! Input: sizes, the gap between them, the sheet's size where there is one. Output: places.
//! Rows are tried at several widths and with the rectangles as drawn, all lying and all
//! standing; the fewest sheets win, then the least area, then the fewest turned.

use crate::shop::profile::fits;
use crate::sketch::Point;

/// Where a rectangle lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Laid {
    /// Which one.
    pub index: usize,
    /// Turned by 90° counter-clockwise.
    pub turned: bool,
    /// Which sheet, from 0.
    pub sheet: usize,
    /// Its lower left corner on the sheet, mm.
    pub low: Point,
}

/// How rectangles are laid before they are put into rows.
#[derive(Debug, Clone, Copy)]
enum Way {
    AsDrawn,
    Lying,
    Standing,
}

/// The places, in the order of the sheets. What fits on no sheet has one of its own.
pub(super) fn pack(sizes: &[(f64, f64)], gap: f64, sheet: Option<(f64, f64)>) -> Vec<Laid> {
    let mut best: Option<((usize, f64, usize), Vec<Laid>)> = None;
    for way in [Way::AsDrawn, Way::Lying, Way::Standing] {
        let turned: Vec<bool> = sizes.iter().map(|s| turns(way, *s, gap, sheet)).collect();
        let size = |i: usize| {
            let (w, h) = sizes[i];
            if turned[i] { (h, w) } else { (w, h) }
        };
        let mut order: Vec<usize> = (0..sizes.len()).collect();
        order.sort_by(|a, b| {
            let (a, b) = (size(*a), size(*b));
            b.1.total_cmp(&a.1).then(b.0.total_cmp(&a.0))
        });
        let widths: Vec<f64> = match sheet {
            Some((width, _)) => vec![width],
            None => (1..=order.len())
                .map(|k| gap + order[..k].iter().map(|i| size(*i).0 + gap).sum::<f64>())
                .collect(),
        };
        for width in widths {
            let (all, area) = rows(&order, &size, &turned, gap, width, sheet.map(|s| s.1));
            let sheets = all.iter().map(|l| l.sheet + 1).max().unwrap_or(0);
            let cost = (sheets, area, all.iter().filter(|l| l.turned).count());
            let better = best.as_ref().is_none_or(|(b, _)| {
                let by = cost.0.cmp(&b.0);
                // Less than a thousandth of the area is no gain worth a turned plate.
                let area = if (cost.1 - b.1).abs() <= 1e-3 * b.1 {
                    std::cmp::Ordering::Equal
                } else {
                    cost.1.total_cmp(&b.1)
                };
                by.then(area).then(cost.2.cmp(&b.2)).is_lt()
            });
            if better {
                best = Some((cost, all));
            }
        }
    }
    best.map_or_else(Vec::new, |b| b.1)
}

/// Whether a rectangle is turned; the other way where only that fits on the sheet.
fn turns(way: Way, (w, h): (f64, f64), gap: f64, sheet: Option<(f64, f64)>) -> bool {
    let wanted = match way {
        Way::AsDrawn => false,
        Way::Lying => h > w + 1e-6,
        Way::Standing => w > h + 1e-6,
    };
    let Some(sheet) = sheet else { return wanted };
    let fit = |turned: bool| {
        let size = if turned { (h, w) } else { (w, h) };
        fits(size, gap, sheet)
    };
    if !fit(wanted) && fit(!wanted) {
        !wanted
    } else {
        wanted
    }
}

/// Rows from left to right, upwards, then onto the next sheet; and the area of all sheets' used
/// rectangles, mm².
fn rows(
    order: &[usize],
    size: &impl Fn(usize) -> (f64, f64),
    turned: &[bool],
    gap: f64,
    width: f64,
    height: Option<f64>,
) -> (Vec<Laid>, f64) {
    let mut out = Vec::new();
    let (mut x, mut y, mut row, mut sheet) = (gap, gap, 0.0f64, 0usize);
    let (mut used, mut area) = ((0.0f64, 0.0f64), 0.0);
    for &i in order {
        let (w, h) = size(i);
        if x > gap && x + w + gap > width + 1e-9 {
            (x, y, row) = (gap, y + row + gap, 0.0);
        }
        let over = height.is_some_and(|most| y + h + gap > most + 1e-9);
        if over && (x > gap || y > gap) {
            area += used.0 * used.1;
            (x, y, row, used) = (gap, gap, 0.0, (0.0, 0.0));
            sheet += 1;
        }
        out.push(Laid {
            index: i,
            turned: turned[i],
            sheet,
            low: Point::new(x, y),
        });
        used = (used.0.max(x + w + gap), used.1.max(y + h + gap));
        x += w + gap;
        row = row.max(h);
    }
    (out, area + used.0 * used.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boxes(sizes: &[(f64, f64)], all: &[Laid]) -> Vec<(usize, [f64; 4])> {
        all.iter()
            .map(|l| {
                let (w, h) = sizes[l.index];
                let (w, h) = if l.turned { (h, w) } else { (w, h) };
                (l.sheet, [l.low.x, l.low.y, l.low.x + w, l.low.y + h])
            })
            .collect()
    }

    fn apart(a: &[f64; 4], b: &[f64; 4], gap: f64) -> bool {
        let g = gap - 1e-9;
        a[2] + g <= b[0] || b[2] + g <= a[0] || a[3] + g <= b[1] || b[3] + g <= a[1]
    }

    #[test]
    fn nothing_overlaps_and_all_lie_on_their_sheets() {
        // Thirty sizes by a fixed rule, on sheets of 500 × 300.
        let sizes: Vec<(f64, f64)> = (0..30)
            .map(|i| {
                let i = f64::from(i);
                (40.0 + (i * 37.0) % 180.0, 30.0 + (i * 53.0) % 240.0)
            })
            .collect();
        let all = pack(&sizes, 10.0, Some((500.0, 300.0)));
        let mut seen: Vec<usize> = all.iter().map(|l| l.index).collect();
        seen.sort_unstable();
        assert_eq!(seen, (0..30).collect::<Vec<_>>());
        let boxes = boxes(&sizes, &all);
        for (i, (s, a)) in boxes.iter().enumerate() {
            assert!(
                a[0] >= 10.0 && a[1] >= 10.0 && a[2] <= 490.0 && a[3] <= 290.0,
                "{a:?}"
            );
            for (t, b) in &boxes[i + 1..] {
                assert!(s != t || apart(a, b, 10.0), "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn a_plate_is_turned_where_that_saves_a_sheet_or_metal() {
        // Two of 280 × 100 side by side on 330 × 240: only standing is too high, lying stacks.
        let all = pack(
            &[(100.0, 280.0), (100.0, 280.0)],
            10.0,
            Some((330.0, 240.0)),
        );
        assert!(all.iter().all(|l| l.turned && l.sheet == 0), "{all:?}");
        // As drawn where nothing is gained.
        let all = pack(&[(120.0, 120.0), (120.0, 120.0)], 10.0, None);
        assert!(all.iter().all(|l| !l.turned));
        // 300 × 40 and 40 × 300: turned into the same direction they need less.
        let all = pack(&[(300.0, 40.0), (40.0, 300.0)], 10.0, None);
        assert_eq!(all.iter().filter(|l| l.turned).count(), 1);
        // Too large for any sheet: a sheet of its own, and the rest on the next.
        let sizes = [(900.0, 900.0), (50.0, 50.0)];
        let all = pack(&sizes, 10.0, Some((500.0, 300.0)));
        assert_eq!(all.iter().map(|l| l.sheet).collect::<Vec<_>>(), [0, 1]);
    }
}
