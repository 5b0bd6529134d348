//! Spur gears with involute teeth.
//!
//! Input: module, number of teeth, pressure angle, backlash, profile shift. Output: the outline as
//! lines and arcs within 0.004 mm of the curves, and the sizes that are measured on a gear.
//!
//! The teeth are those of the basic rack of ISO 53:1998 profile A (addendum 1 m, dedendum
//! 1.25 m, root fillet 0.38 m), as a rack cutter of that profile generates them: an involute, and
//! at the root the curve that the rounded corner of the cutter leaves, undercut where it cuts so
//! (formulae: ISO 21771:2007; numbers of the rack from memory).

use super::biarc::{Cubic, fit};
use super::contour::{Contour, Point, Vertex};
use super::segment::Vector;
use super::shapes::LARGEST;
use super::transform::rotate;
use platewright_base::System;
use platewright_base::shown;
use platewright_base::units::number;
use std::f64::consts::PI;

/// How far arcs may lie from the involute, mm.
const FIT: f64 = 0.004;
/// Dedendum of the basic rack, modules.
const DEDENDUM: f64 = 1.25;
/// Root fillet of the basic rack, modules.
const FILLET: f64 = 0.38;
/// A tooth narrower than this at its tip, modules, is pointed.
const POINTED: f64 = 0.1;
/// Places at which the root curve is compared with the involute.
const SCAN: usize = 400;

/// Why a gear cannot be drawn.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum GearError {
    /// A number out of range.
    #[error("{what} is {}, it must lie between {} and {}", what.shown(*.value), what.shown(*.least), what.shown(*.most))]
    Range {
        /// Which number.
        what: GearNumber,
        /// Its value.
        value: f64,
        /// Least.
        least: f64,
        /// Most.
        most: f64,
    },
    /// Teeth that come to a point.
    #[error("the teeth come to a point: {} are left at the tip", shown::size(*.0))]
    Pointed(f64),
    /// Cutting the root takes the whole flank away.
    #[error("with so few teeth the root is cut away up to the tip")]
    Undercut,
}

/// The numbers of a gear.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GearNumber {
    /// Module, mm.
    Module,
    /// Number of teeth.
    Teeth,
    /// Pressure angle, degrees.
    PressureAngle,
    /// Backlash, mm.
    Backlash,
    /// Profile shift, modules.
    Shift,
}

impl GearNumber {
    /// Its value as people read it: lengths of a gear are known by their millimetres, so inches
    /// are said with their unit.
    fn shown(self, value: f64) -> String {
        match self {
            GearNumber::Module | GearNumber::Backlash if System::inches() => shown::size(value),
            _ => number(value),
        }
    }
}

impl std::fmt::Display for GearNumber {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            GearNumber::Module => "the module",
            GearNumber::Teeth => "the number of teeth",
            GearNumber::PressureAngle => "the pressure angle",
            GearNumber::Backlash => "the backlash",
            GearNumber::Shift => "the profile shift",
        })
    }
}

/// A spur gear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gear {
    /// Module, mm.
    pub module: f64,
    /// Number of teeth.
    pub teeth: u32,
    /// Pressure angle, degrees.
    pub pressure_angle: f64,
    /// How much thinner each tooth is at the reference circle than half the pitch, mm.
    pub backlash: f64,
    /// Profile shift, modules: the rack stands further out by this.
    pub shift: f64,
}

/// inv α = tan α − α (ISO 21771, involute function).
fn involute(angle: f64) -> f64 {
    angle.tan() - angle
}

impl Gear {
    fn alpha(&self) -> f64 {
        self.pressure_angle.to_radians()
    }
    fn z(&self) -> f64 {
        f64::from(self.teeth)
    }
    /// Diameter of the reference circle, mm: m·z.
    pub fn reference_diameter(&self) -> f64 {
        self.module * self.z()
    }
    /// Diameter of the base circle, mm: m·z·cos α.
    pub fn base_diameter(&self) -> f64 {
        self.reference_diameter() * self.alpha().cos()
    }
    /// Diameter over the tips, mm.
    pub fn tip_diameter(&self) -> f64 {
        self.reference_diameter() + 2.0 * self.module * (1.0 + self.shift)
    }
    /// Diameter of the root circle, mm.
    pub fn root_diameter(&self) -> f64 {
        self.reference_diameter() - 2.0 * self.module * (DEDENDUM - self.shift)
    }
    /// Thickness of a tooth along the reference circle, mm.
    pub fn tooth_thickness(&self) -> f64 {
        self.module * (0.5 * PI + 2.0 * self.shift * self.alpha().tan()) - self.backlash
    }
    /// Number of teeth over which the span is measured: the nearest whole number to
    /// z·α/180° + 0.5, so that the jaws touch near the middle of the flanks.
    pub fn span_teeth(&self) -> u32 {
        let k = (self.z() * self.pressure_angle / 180.0 + 0.5).round();
        (k as u32).clamp(2, self.teeth.max(2))
    }
    /// Span over [`Self::span_teeth`] teeth, mm (ISO 21771, base tangent length):
    /// m·cos α·(π(k − 1/2) + z·inv α) + 2·x·m·sin α, less the backlash along the base tangent.
    pub fn span(&self) -> f64 {
        let (a, k) = (self.alpha(), f64::from(self.span_teeth()));
        let plain = self.module * a.cos() * (PI * (k - 0.5) + self.z() * involute(a));
        plain + 2.0 * self.shift * self.module * a.sin() - self.backlash * a.cos()
    }
    /// Half the angle that a tooth takes on a circle outside the base circle, radians.
    fn half_angle(&self, radius: f64) -> f64 {
        let base = 0.5 * self.base_diameter();
        let here = (base / radius).min(1.0).acos();
        self.tooth_thickness() / self.reference_diameter() + involute(self.alpha()) - involute(here)
    }
    fn check(&self) -> Result<(), GearError> {
        let range = |what, value: f64, least: f64, most: f64| {
            if (least..=most).contains(&value) {
                Ok(())
            } else {
                Err(GearError::Range {
                    what,
                    value,
                    least,
                    most,
                })
            }
        };
        range(GearNumber::Module, self.module, 0.1, 50.0)?;
        range(GearNumber::Teeth, self.z(), 5.0, 200.0)?;
        range(GearNumber::PressureAngle, self.pressure_angle, 14.0, 30.0)?;
        range(GearNumber::Backlash, self.backlash, 0.0, 0.5 * self.module)?;
        range(GearNumber::Shift, self.shift, -0.8, 1.2)?;
        range(
            GearNumber::Module,
            self.tip_diameter(),
            self.module,
            LARGEST,
        )
    }

    /// The outline about (0, 0), counter-clockwise; one tooth points along +x.
    ///
    /// # Errors
    /// See [`GearError`].
    pub fn outline(&self) -> Result<Contour, GearError> {
        self.check()?;
        let tip = 0.5 * self.tip_diameter();
        let at_tip = self.half_angle(tip);
        let left = 2.0 * tip * at_tip;
        if left < POINTED * self.module {
            return Err(GearError::Pointed(left.max(0.0)));
        }
        let rack = Rack::of(self);
        let flank = self.flank(&rack)?;
        let land = rack.middle / (0.5 * self.reference_diameter());
        let mut tooth = flank.clone();
        // The tip, then the same flank mirrored, from the tip to the root.
        let end = Point::new(tip * at_tip.cos(), -tip * at_tip.sin());
        tooth.push(Vertex {
            at: end,
            bulge: (0.5 * at_tip).tan(),
        });
        let mirror = |p: Point| Point::new(p.x, -p.y);
        let mut from = end;
        for v in flank.iter().rev() {
            tooth.push(Vertex {
                at: mirror(from),
                bulge: v.bulge,
            });
            from = v.at;
        }
        if land > 1e-9 {
            tooth.push(Vertex {
                at: mirror(from),
                bulge: (0.5 * land).tan(),
            });
        }
        let mut vertices = Vec::with_capacity(tooth.len() * self.teeth as usize);
        for i in 0..self.teeth {
            let angle = 360.0 * f64::from(i) / self.z();
            vertices.extend(tooth.iter().map(|v| Vertex {
                at: rotate(v.at, angle),
                bulge: v.bulge,
            }));
        }
        Ok(Contour::new(vertices))
    }

    /// The flank on the clockwise side of the tooth on +x, from the root to the tip; the tip
    /// itself is not listed.
    fn flank(&self, rack: &Rack) -> Result<Vec<Vertex>, GearError> {
        let (base, tip) = (0.5 * self.base_diameter(), 0.5 * self.tip_diameter());
        // Where the root's curve ends: where the fillet of the rack begins, or, where it cuts
        // into the involute, where both cross.
        let mut last = rack.end;
        let overlap = |q: f64| {
            let (r, half) = self.root(rack, q);
            (r >= base).then(|| self.half_angle(r) - half)
        };
        let at = |i: usize| rack.end * i as f64 / SCAN as f64;
        if let Some(i) = (0..SCAN)
            .rev()
            .find(|i| overlap(at(*i)).is_some_and(|o| o > 1e-9))
        {
            let (mut low, mut high) = (at(i), at(i + 1));
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if overlap(middle).is_some_and(|o| o > 0.0) {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            last = 0.5 * (low + high);
        }
        let start = self.root(rack, last).0;
        if start > tip - 0.2 * self.module {
            return Err(GearError::Undercut);
        }
        let polar = |r: f64, half: f64| Point::new(r * half.cos(), -r * half.sin());
        let fillet = |q: f64| {
            let (r, half) = self.root(rack, q);
            polar(r, half)
        };
        // Along the involute by its roll angle t: r = base·√(1 + t²).
        let roll = |r: f64| ((r / base).powi(2) - 1.0).max(0.0).sqrt();
        let involute = |t: f64| {
            let r = base * (1.0 + t * t).sqrt();
            polar(r, self.half_angle(r))
        };
        let mut vertices = fitted(&fillet, 0.0, last);
        vertices.extend(fitted(&involute, roll(start), roll(tip)));
        Ok(vertices)
    }

    /// A point of the root's curve: its radius, and half the angle of the tooth there. `q`: how
    /// far along the pitch line the middle of the rack's fillet stands from the pitch point.
    fn root(&self, rack: &Rack, q: f64) -> (f64, f64) {
        let r = 0.5 * self.reference_diameter();
        let long = q.hypot(rack.depth);
        // The contact lies beyond the fillet's middle, on the line through the pitch point.
        let share = 1.0 + rack.fillet / long;
        let (x, y) = (q * share, r - rack.depth * share);
        let turned = (q - rack.middle) / r;
        (x.hypot(y), PI / self.z() - (x.atan2(y) - turned))
    }
}

/// The tip of the rack that cuts the root, all mm.
struct Rack {
    /// Radius of its rounded corner.
    fillet: f64,
    /// The middle of that corner: this far from the middle of the rack's tooth, which is flat up to
    /// there.
    middle: f64,
    /// And this far inside the pitch line.
    depth: f64,
    /// Where the corner ends and the straight flank begins, along the pitch line.
    end: f64,
}

impl Rack {
    fn of(gear: &Gear) -> Self {
        let (m, a) = (gear.module, gear.alpha());
        let half = 0.25 * PI * m + 0.5 * gear.backlash;
        // middle(ρ) = half − (dedendum − ρ)·tan α − ρ/cos α, and not below 0: the corner is at
        // most as large as the rack's tip is wide.
        let flat = half - DEDENDUM * m * a.tan();
        let loss = 1.0 / a.cos() - a.tan();
        let fillet = (FILLET * m).min(flat.max(0.0) / loss);
        let middle = flat - fillet * loss;
        let depth = (DEDENDUM - gear.shift) * m - fillet;
        Self {
            fillet,
            middle: middle.max(0.0),
            depth,
            end: depth / a.tan(),
        }
    }
}

/// Arcs along a curve from `from` to `to`; its last point is not listed.
fn fitted(curve: &impl Fn(f64) -> Point, from: f64, to: f64) -> Vec<Vertex> {
    const PIECES: usize = 2;
    let step = (to - from) / PIECES as f64;
    let slope = |t: f64| -> Vector {
        let h = 1e-4 * step;
        let (a, b) = ((t - h).max(from), (t + h).min(to));
        (curve(b) - curve(a)) / (b - a)
    };
    (0..PIECES)
        .flat_map(|i| {
            let (t0, t1) = (from + step * i as f64, from + step * (i + 1) as f64);
            let (p, q) = (curve(t0), curve(t1));
            let (v, w) = (slope(t0), slope(t1));
            let c = Cubic([p, p + v * (step / 3.0), q - w * (step / 3.0), q]);
            fit(&c, c.start_direction(), c.end_direction(), 0.5 * FIT).vertices
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gear(module: f64, teeth: u32) -> Gear {
        Gear {
            module,
            teeth,
            pressure_angle: 20.0,
            backlash: 0.0,
            shift: 0.0,
        }
    }

    /// Span measured on the drawn outline: two parallel lines, perpendicular to the direction
    /// `angle`, that touch the outermost flanks of k teeth about it.
    fn measured(g: &Gear) -> f64 {
        let c = g.outline().unwrap();
        let base = 0.5 * g.base_diameter();
        // The jaws touch along the line tangent to the base circle: both touching points lie
        // on that line; the outermost crossings of it with the k teeth's flanks are the span.
        let turn = if g.span_teeth() % 2 == 1 {
            0.0
        } else {
            180.0 / g.z()
        };
        let direction = turn.to_radians();
        let along = Vector::new(-direction.sin(), direction.cos());
        let foot = Point::from(Vector::new(direction.cos(), direction.sin()) * base);
        let line = Contour::new(vec![
            Vertex {
                at: foot - along * 1e3,
                bulge: 0.0,
            },
            Vertex {
                at: foot + along * 1e3,
                bulge: 0.0,
            },
            Vertex {
                at: foot + along * 1e3 + Vector::new(direction.cos(), direction.sin()) * 1e3,
                bulge: 0.0,
            },
            Vertex {
                at: foot - along * 1e3 + Vector::new(direction.cos(), direction.sin()) * 1e3,
                bulge: 0.0,
            },
        ]);
        let mut places: Vec<f64> = c
            .crossings(&line)
            .iter()
            .flat_map(|x| x.points.clone())
            .filter(|p| {
                ((p - foot).dot(&Vector::new(direction.cos(), direction.sin()))).abs() < 1e-6
            })
            .map(|p| (p - foot).dot(&along))
            .collect();
        places.sort_by(f64::total_cmp);
        // The pair of crossings, one on either side, nearest to the span of the formula (the next ones are a base pitch away).
        let (mut best, mut found) = (f64::INFINITY, 0.0);
        for a in places.iter().filter(|v| **v < 0.0) {
            for b in places.iter().filter(|v| **v > 0.0) {
                let off = (b - a - g.span()).abs();
                if off < best {
                    (best, found) = (off, b - a);
                }
            }
        }
        found
    }

    #[test]
    fn span_of_a_worked_example() {
        // Base tangent lengths for m = 1, α = 20°, from the tables that handbooks print:
        // z = 20 over 3 teeth 7.6604, z = 30 over 4 teeth 10.7526, z = 50 over 6 teeth 16.9370 (from memory).
        for (z, k, w) in [(20, 3, 7.6604), (30, 4, 10.7526), (50, 6, 16.9370)] {
            let g = gear(1.0, z);
            assert_eq!(g.span_teeth(), k);
            assert!((g.span() - w).abs() < 5e-4, "{z}: {}", g.span());
        }
    }

    #[test]
    fn the_outline_has_the_span_of_the_formula() {
        for (m, z, x, j) in [
            (1.0, 20, 0.0, 0.0),
            (2.0, 12, 0.4, 0.1),
            (1.5, 17, 0.0, 0.05),
            (3.0, 9, 0.5, 0.0),
            (1.0, 80, -0.2, 0.0),
        ] {
            let g = Gear {
                shift: x,
                backlash: j,
                ..gear(m, z)
            };
            let w = measured(&g);
            assert!(
                (w - g.span()).abs() < 0.01,
                "m {m} z {z}: {w} for {}",
                g.span()
            );
        }
    }

    #[test]
    fn the_flank_lies_on_the_involute() {
        // The involute by its own definition: the end of a taut string unwound from the base circle.
        for (m, z, x) in [
            (1.0, 20, 0.0),
            (2.5, 24, 0.0),
            (5.0, 40, 0.2),
            (10.0, 30, 0.0),
        ] {
            let g = Gear {
                shift: x,
                ..gear(m, z)
            };
            let c = g.outline().unwrap();
            let base = 0.5 * g.base_diameter();
            // Where the flank of the tooth on +x leaves the base circle.
            let start = -(g.tooth_thickness() / g.reference_diameter() + involute(g.alpha()));
            let tip = (0.5 * g.tip_diameter() / base).powi(2) - 1.0;
            let foot = ((0.5 * g.reference_diameter() - 0.6 * m * (1.0 - x)) / base).powi(2) - 1.0;
            for i in 0..=50 {
                let share = f64::from(i) / 50.0;
                let t = (foot.max(0.01) + (tip - foot.max(0.01)) * share).sqrt();
                let (a, l) = (start + t, base * t);
                let p = Point::new(base * a.cos() + l * a.sin(), base * a.sin() - l * a.cos());
                assert!(c.distance(p) < FIT, "m {m} z {z}: {} at {p}", c.distance(p));
            }
        }
    }

    #[test]
    fn every_gear_is_a_simple_outline_between_its_circles() {
        for z in [5, 6, 7, 8, 10, 13, 17, 23, 40, 90, 200] {
            for a in [14.5, 20.0, 25.0, 30.0] {
                for x in [-0.3, 0.0, 0.3, 0.6] {
                    let g = Gear {
                        pressure_angle: a,
                        shift: x,
                        ..gear(1.7, z)
                    };
                    let Ok(c) = g.outline() else { continue };
                    assert!(c.is_simple(), "{g:?}");
                    let area = c.signed_area();
                    let disc = |d: f64| 0.25 * PI * d * d;
                    assert!(
                        area > disc(g.root_diameter()) && area < disc(g.tip_diameter()),
                        "{g:?}"
                    );
                    for v in &c.vertices {
                        let r = 2.0 * v.at.coords.norm();
                        assert!(
                            r > g.root_diameter() - 1e-6 && r < g.tip_diameter() + 1e-6,
                            "{g:?}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_gear_of_seventeen_teeth_and_more_is_not_undercut() {
        // ISO 53 profile A with its rounded tip: undercut below about 17 teeth at 20°
        // (2·(1.25 − 0.38·(1 − sin 20°))/sin² 20° = 17.1).
        let narrow = |z: u32| {
            let g = gear(1.0, z);
            let c = g.outline().unwrap();
            // Sharp corners that point into the plastic: where the root cuts the involute.
            let segments: Vec<_> = c.segments().collect();
            (0..segments.len())
                .filter(|i| {
                    let next = &segments[(i + 1) % segments.len()];
                    let turned = super::super::segment::turn(
                        segments[*i].direction_at(1.0),
                        next.direction_at(0.0),
                    );
                    turned.abs() > 0.05
                })
                .count()
        };
        // At the tips two corners a tooth; undercut adds two.
        assert_eq!(narrow(20), 40);
        assert_eq!(narrow(9), 36);
    }

    #[test]
    fn what_cannot_be_a_gear_says_why() {
        assert!(matches!(
            Gear {
                shift: 1.1,
                ..gear(1.0, 8)
            }
            .outline(),
            Err(GearError::Pointed(_))
        ));
        assert!(gear(0.0, 20).outline().is_err() && gear(1.0, 4).outline().is_err());
        assert!(gear(f64::NAN, 20).outline().is_err());
        assert!(
            Gear {
                pressure_angle: 45.0,
                ..gear(1.0, 20)
            }
            .outline()
            .is_err()
        );
    }
}
