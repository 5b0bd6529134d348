//! Where a slider stops: stock sizes, what a plastic's table gives, preferred numbers.
//!
//! Input: a key, its definition, the unit that is written, the value. Output: the stops, rising.
//! They follow from what there is to buy and to set, not from where the value stands.

use crate::base::System;
use crate::base::quantity;
use crate::base::units::decimals;
use crate::data::{fits, material, materials, plastics};
use crate::design::Design;
use crate::spec::key::Kind;

/// The series R 20 of ISO 3:1973, table 1, from 1 to 10.
const R20: [f64; 20] = [
    1.0, 1.12, 1.25, 1.4, 1.6, 1.8, 2.0, 2.24, 2.5, 2.8, 3.15, 3.55, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1,
    8.0, 9.0,
];
/// Most stops of an even scale.
const EVEN: f64 = 60.0;
/// The smallest preferred number that a slider has, in the stored unit.
const SMALLEST: f64 = 0.01;

/// The stops, in the unit that is written; the value is one of them.
pub(super) fn steps(
    key: &str,
    kind: &Kind,
    unit: &str,
    value: f64,
    design: Option<&Design>,
    stock: System,
) -> Vec<f64> {
    let (mut stops, dimension) = match *kind {
        Kind::Count { min, max } => {
            let most = f64::from(max).min(f64::from(min) + EVEN);
            (even(f64::from(min), most.max(value), 1.0), None)
        }
        Kind::Quantity {
            dimension,
            min,
            max,
        } => {
            let known = sold(key, design, stock).or_else(|| set(key, design));
            let stops = match known {
                Some(stops) => stops,
                None if min >= 0.0 && max > 20.0 * min => preferred(min, max),
                None => even(min, max, round((max - min) / EVEN)),
            };
            let within = stops.into_iter().filter(|s| (min..=max).contains(s));
            (within.collect(), Some(dimension))
        }
        _ => return Vec::new(),
    };
    // The key's limits and all sizes are in the stored unit.
    if let Some(dimension) = dimension
        && unit != dimension.symbol()
    {
        let stored = |n: u8| quantity::parse(&format!("{n} {unit}"), dimension).ok();
        let (Some(zero), Some(one)) = (stored(0), stored(1)) else {
            return Vec::new();
        };
        for s in &mut stops {
            *s = rounded((*s - zero) / (one - zero));
        }
    }
    stops.push(value);
    stops.sort_by(f64::total_cmp);
    stops.dedup();
    stops
}

fn even(min: f64, max: f64, step: f64) -> Vec<f64> {
    let count = ((max - min) / step).round().clamp(0.0, 2.0 * EVEN) as u32;
    let first = (min / step).ceil();
    let inner = (0..=count).map(|i| rounded((first + f64::from(i)) * step));
    inner.filter(|s| *s <= max).collect()
}

/// Preferred numbers from the smallest that is of use to the largest.
fn preferred(min: f64, max: f64) -> Vec<f64> {
    let least = min.max(SMALLEST.min(max / 1000.0)).max(max / 1e5);
    let mut out: Vec<f64> = if min == 0.0 { vec![0.0] } else { Vec::new() };
    let mut ten = 10_f64.powf(least.log10().floor());
    while ten <= max {
        out.extend(R20.iter().map(|r| rounded(r * ten)));
        ten *= 10.0;
    }
    out.retain(|s| *s == 0.0 || (least..=max).contains(s));
    out
}

/// To five figures after the point: no tail of a sum.
pub(super) fn rounded(value: f64) -> f64 {
    decimals(value, 5).parse().unwrap_or(value)
}

/// 1, 2 or 5 times a power of ten, near `wanted`.
fn round(wanted: f64) -> f64 {
    let ten = 10_f64.powf(wanted.max(1e-4).log10().floor());
    let lead = wanted / ten;
    ten * if lead < 1.5 {
        1.0
    } else if lead < 3.5 {
        2.0
    } else {
        5.0
    }
}

/// Sizes that are sold.
fn sold(key: &str, design: Option<&Design>, stock: System) -> Option<Vec<f64>> {
    match key {
        "mold.thickness_a" | "mold.thickness_b" | "adaptor.thickness" => {
            let metal = design.and_then(|d| d.plates.first());
            let metal = material(metal.map_or("6082", |p| p.material.as_str()))?;
            Some(materials::plate_stock(metal, stock)?.thicknesses())
        }
        "dowels.diameter" => {
            let mut all = fits::pins_sold(stock);
            all.sort_by(f64::total_cmp);
            all.dedup();
            Some(all)
        }
        _ => None,
    }
}

/// What a plastic's table gives as the range to set.
fn set(key: &str, design: Option<&Design>) -> Option<Vec<f64>> {
    let plastic = plastics::plastic(&design?.plastic.kind)?;
    let range = match key {
        "plastic.melt_temperature" => &plastic.melt_temperature,
        "plastic.mold_temperature" => &plastic.mold_temperature,
        "plastic.shrinkage" => &plastic.shrinkage,
        _ => return None,
    };
    let (low, high) = (range.value.low, range.value.high);
    if low >= high {
        return None;
    }
    Some(even(low, high, round((high - low) / 20.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::sections;

    fn of(key: &str, unit: &str, value: f64) -> Vec<f64> {
        let kind = sections::find(key).expect("a key").kind;
        steps(key, &kind, unit, value, None, System::Metric)
    }

    #[test]
    fn a_plate_stops_at_what_is_sold_and_a_wall_at_preferred_numbers() {
        let plate = of("mold.thickness_b", "mm", 30.0);
        assert!(plate.contains(&25.0) && plate.contains(&35.0) && !plate.contains(&31.5));
        let wall = of("part.thickness", "mm", 4.0);
        // ISO 3, table 1, R 20.
        assert!(
            [3.55, 4.0, 4.5, 5.0].iter().all(|s| wall.contains(s)),
            "{wall:?}"
        );
        assert_eq!(
            wall,
            of("part.thickness", "mm", 5.0),
            "the range hangs on the value"
        );
        assert!(of("bolts.count", "", 6.0).iter().all(|s| s.fract() == 0.0));
    }

    #[test]
    fn a_shop_that_buys_inches_stops_at_inches() {
        let kind = sections::find("mold.thickness_b").expect("a key").kind;
        let plate = steps("mold.thickness_b", &kind, "mm", 30.0, None, System::Inch);
        // Plates of 6061 are sold in eighths: 1/2, 3/4, 1 in.
        assert!(
            [12.7, 19.05, 25.4].iter().all(|s| plate.contains(s)),
            "{plate:?}"
        );
        assert!(!plate.contains(&20.0));
        let kind = sections::find("dowels.diameter").expect("a key").kind;
        let pins = steps("dowels.diameter", &kind, "mm", 6.35, None, System::Inch);
        assert!(pins.contains(&9.525) && !pins.contains(&8.0), "{pins:?}");
    }

    #[test]
    fn stops_are_in_the_unit_that_is_written() {
        let inches = of("mold.thickness_b", "in", 1.0);
        let near = |s: &f64| (s * 25.4 - 30.0).abs() < 1e-3;
        assert!(inches.iter().any(near), "{inches:?}");
        assert!(inches.contains(&1.0));
    }
}
