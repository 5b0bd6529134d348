//! Which stock sheets make a thickness.
//!
//! Input: the thickness wanted, stock thicknesses ascending. Output: the sheets, thickest first.

/// Near enough, a fraction of the thickness wanted.
const NEAR: f64 = 0.05;
/// Most sheets that are tried in all their combinations.
const TRIED: usize = 4;

/// As few sheets as come within [`NEAR`] of `want`; else the nearest of up to [`TRIED`] on top
/// of whole thickest ones. Empty when more than `most` are needed or there is no stock.
pub(super) fn sheets(want: f64, stock: &[f64], most: usize) -> Vec<f64> {
    let Some(thickest) = stock.last().copied().filter(|t| *t > 0.0) else {
        return Vec::new();
    };
    let whole = ((want / thickest).floor() as usize).saturating_sub(TRIED - 2);
    if whole >= most || !want.is_finite() {
        return Vec::new();
    }
    let rest = want - whole as f64 * thickest;
    let mut best: Vec<f64> = Vec::new();
    let error = |list: &[f64]| error(list, rest);
    for n in 1..=TRIED {
        let mut found = Vec::new();
        search(rest, stock, n, &mut Vec::new(), &mut found);
        if best.is_empty() || error(&found) < error(&best) - 1e-9 {
            best = found;
        }
        if error(&best) <= NEAR * want {
            break;
        }
    }
    let mut all = vec![thickest; whole];
    all.extend(best);
    all.sort_by(|a, b| b.total_cmp(a));
    if all.len() > most { Vec::new() } else { all }
}

/// How far a sum of thicknesses is off, mm.
fn error(list: &[f64], want: f64) -> f64 {
    (list.iter().sum::<f64>() - want).abs()
}

/// The nearest sum of `n` thicknesses, each no thicker than the one before it.
fn search(rest: f64, stock: &[f64], n: usize, chosen: &mut Vec<f64>, best: &mut Vec<f64>) {
    if n == 0 {
        if best.is_empty() || error(chosen, rest) < error(best, rest) - 1e-9 {
            best.clone_from(chosen);
        }
        return;
    }
    for (i, t) in stock.iter().enumerate().rev() {
        chosen.push(*t);
        search(rest, &stock[..=i], n - 1, chosen, best);
        chosen.pop();
    }
}

#[cfg(test)]
mod tests {
    use super::sheets;

    const STOCK: [f64; 9] = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0];

    #[test]
    fn few_sheets_near_the_thickness() {
        assert_eq!(sheets(3.05, &STOCK, 12), [3.0]);
        assert_eq!(sheets(3.5, &STOCK, 12), [2.5, 1.0]);
        assert_eq!(sheets(7.0, &STOCK, 12), [6.0, 1.0]);
        assert_eq!(sheets(0.2, &STOCK, 12), [1.0]);
        let thick = sheets(50.0, &STOCK, 12);
        assert!(
            (thick.iter().sum::<f64>() - 50.0).abs() <= 2.5 && thick.len() == 6,
            "{thick:?}"
        );
        assert!(sheets(500.0, &STOCK, 12).is_empty() && sheets(3.0, &[], 12).is_empty());
    }
}
