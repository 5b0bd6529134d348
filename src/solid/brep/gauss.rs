//! Gauss points and weights.

/// Positive abscissae and weights of the 8-point Gauss–Legendre rule (Abramowitz & Stegun, table 25.4).
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_27),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_26),
];

/// Gauss points and weights on an interval.
pub(super) fn gauss(a: f64, b: f64) -> impl Iterator<Item = (f64, f64)> {
    let (m, h) = (0.5 * (a + b), 0.5 * (b - a));
    GAUSS
        .into_iter()
        .flat_map(move |(x, w)| [(m - h * x, h * w), (m + h * x, h * w)])
}
