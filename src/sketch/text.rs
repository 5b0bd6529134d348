//! One line of text as regions of lines and arcs.
//!
//! Input: text and the height of its capitals. Output: one set of regions per
//! visible character, in the embedded font (DejaVu Sans, crate `dejavu`), curves
//! fitted with tangent arcs. Sets one line from left to right; no shaping of
//! scripts that join their letters.

use super::biarc::Cubic;
use super::boolean::{Operation, combine};
use super::bounds::Bounds;
use super::contour::{Contour, Point, Region};
use super::offset::group;
use super::strokes::{Stroke, fitted, notched};
use nalgebra::Vector2;
use platewright_base::shown;
use ttf_parser::{Face, GlyphId, OutlineBuilder};

/// How far arcs may lie from the font's curves, mm.
pub const FIT: f64 = 0.005;
/// Longest text, characters.
pub const LONGEST: usize = 200;

/// Why a text cannot be set.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TextError {
    /// No visible character.
    #[error("the text has no visible character")]
    Empty,
    /// Too long.
    #[error("the text has {0} characters, at most {LONGEST} fit one line")]
    TooLong(usize),
    /// A height out of range.
    #[error("letters {} high: the height must lie between {} and {}", shown::size(*.0), shown::bare_size(0.5), shown::size(500.0))]
    Size(f64),
    /// A character the font lacks.
    #[error("the font has no character '{character}' (U+{code:04X})")]
    NoGlyph {
        /// The character.
        character: char,
        /// Its code point.
        code: u32,
    },
    /// A character whose outlines cannot be made clean.
    #[error("the outline of the character '{0}' crosses itself at this size")]
    Tangled(char),
    /// A circle too small for the text.
    #[error(
        "on a circle of {} the letters {} run into each other",
        shown::size(*.diameter),
        format_args!("'{}' and '{}'", .first, .second)
    )]
    Crowded {
        /// Diameter of the circle, mm.
        diameter: f64,
        /// A letter.
        first: char,
        /// The one that it runs into.
        second: char,
    },
    /// The embedded font cannot be read: an internal fault.
    #[error("the embedded font cannot be read")]
    Font,
}

/// One visible character.
#[derive(Debug, Clone, PartialEq)]
pub struct Glyph {
    /// The character.
    pub character: char,
    /// Its regions in place.
    pub regions: Vec<Region>,
}

/// A line of text, centred on (0, 0): its ink in x, its capitals in y.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The visible characters from left to right.
    pub glyphs: Vec<Glyph>,
    /// Narrowest stroke of all characters, mm: what a cutter has to pass through.
    pub narrowest_stroke: f64,
    /// Where the feet of the letters stand, y.
    foot: f64,
}

impl Line {
    /// Box around the ink.
    pub fn bounds(&self) -> Bounds {
        self.glyphs
            .iter()
            .flat_map(|g| &g.regions)
            .fold(Bounds::default(), |b, r| b.union(&r.bounds()))
    }

    /// The same text on a circle of `diameter` mm about (0, 0), the feet of its letters on the
    /// circle: over its upper half with the heads outward, or `under` its lower half with the
    /// heads toward the middle. Distances between letters are kept where the letters are nearest to
    /// the middle: at their feet, or at their heads.
    ///
    /// # Errors
    /// [`TextError::Crowded`].
    pub fn bent(&self, diameter: f64, under: bool) -> Result<Line, TextError> {
        let radius = 0.5 * diameter;
        // Capitals stand half above and half below y = 0; `line` keeps their height.
        let foot = self.foot;
        let spaced = if under { radius + 2.0 * foot } else { radius };
        if spaced < 0.2 * radius {
            let letter = |i: usize| self.glyphs.get(i).map_or(' ', |g| g.character);
            return Err(TextError::Crowded {
                diameter,
                first: letter(0),
                second: letter(1),
            });
        }
        let glyphs: Vec<Glyph> = (self.glyphs.iter())
            .map(|g| {
                let box_ = (g.regions.iter()).fold(Bounds::default(), |b, r| b.union(&r.bounds()));
                let x = box_.centre().x;
                let angle = (x / spaced).to_degrees();
                let (turned, arm) = if under {
                    (angle, -radius)
                } else {
                    (-angle, radius)
                };
                let to_circle = Vector2::new(-x, arm - foot);
                Glyph {
                    character: g.character,
                    regions: (g.regions.iter())
                        .map(|r| r.translated(to_circle).rotated(turned))
                        .collect(),
                }
            })
            .collect();
        // Each against the next, and the last against the first when the text goes all round.
        for (i, a) in glyphs.iter().enumerate() {
            for b in &glyphs[..i] {
                let meets = |r: &Region, s: &Region| {
                    r.bounds().touches(&s.bounds())
                        && (!r.outer.crossings(&s.outer).is_empty()
                            || r.outer.encloses(&s.outer)
                            || s.outer.encloses(&r.outer))
                };
                if (a.regions.iter()).any(|r| b.regions.iter().any(|s| meets(r, s))) {
                    return Err(TextError::Crowded {
                        diameter,
                        first: b.character,
                        second: a.character,
                    });
                }
            }
        }
        Ok(Line {
            glyphs,
            narrowest_stroke: self.narrowest_stroke,
            foot,
        })
    }
}

/// Sets one line with capitals `size` mm high, kerned.
///
/// # Errors
/// See [`TextError`].
pub fn line(text: &str, size: f64) -> Result<Line, TextError> {
    let count = text.chars().count();
    if count > LONGEST {
        return Err(TextError::TooLong(count));
    }
    if !(0.5..=500.0).contains(&size) {
        return Err(TextError::Size(size));
    }
    let face = Face::parse(dejavu::sans::regular(), 0).map_err(|_| TextError::Font)?;
    let capital = capital_height(&face).ok_or(TextError::Font)?;
    let scale = size / capital;
    let mut pen = 0.0;
    let mut before: Option<GlyphId> = None;
    let mut glyphs = Vec::new();
    for character in text.chars() {
        let id = face
            .glyph_index(character)
            .filter(|_| !character.is_control())
            .ok_or(TextError::NoGlyph {
                character,
                code: u32::from(character),
            })?;
        if let Some(b) = before {
            pen += scale * f64::from(kerning(&face, b, id));
        }
        let contours = outline(&face, id, scale, pen);
        if !contours.is_empty() {
            let regions = resolve(contours)
                .ok_or(TextError::Tangled(character))?
                .iter()
                .map(|r| Region {
                    outer: notched(&r.outer, FIT),
                    holes: r.holes.iter().map(|h| notched(h, FIT)).collect(),
                })
                .collect();
            glyphs.push(Glyph { character, regions });
        }
        pen += scale * f64::from(face.glyph_hor_advance(id).unwrap_or(0));
        before = Some(id);
    }
    if glyphs.is_empty() {
        return Err(TextError::Empty);
    }
    let mut line = Line {
        narrowest_stroke: f64::INFINITY,
        foot: -0.5 * size,
        glyphs,
    };
    let shift = Vector2::new(-line.bounds().centre().x, -0.5 * size);
    for g in &mut line.glyphs {
        for r in &mut g.regions {
            *r = r.translated(shift);
            line.narrowest_stroke = line.narrowest_stroke.min(r.narrowest_stroke());
        }
    }
    Ok(line)
}

fn capital_height(face: &Face) -> Option<f64> {
    let h = face.glyph_index('H')?;
    face.glyph_bounding_box(h)
        .map(|b| f64::from(b.y_max))
        .filter(|v| *v > 0.0)
}

fn kerning(face: &Face, left: GlyphId, right: GlyphId) -> i16 {
    face.tables()
        .kern
        .into_iter()
        .flat_map(|k| k.subtables)
        .filter(|s| s.horizontal && !s.variable && !s.has_state_machine)
        .find_map(|s| s.glyphs_kerning(left, right))
        .unwrap_or(0)
}

/// Collects the strokes of one glyph in millimetres.
struct Pen {
    scale: f64,
    shift: f64,
    start: Point,
    here: Point,
    strokes: Vec<Stroke>,
    contours: Vec<Contour>,
}

impl Pen {
    fn point(&self, x: f32, y: f32) -> Point {
        Point::new(
            f64::from(x) * self.scale + self.shift,
            f64::from(y) * self.scale,
        )
    }
    fn add(&mut self, stroke: Stroke) {
        let (p, q) = stroke.ends();
        if (q - p).norm() > 1e-6 {
            self.strokes.push(stroke);
        }
        self.here = q;
    }
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.start = self.point(x, y);
        self.here = self.start;
        self.strokes.clear();
    }
    fn line_to(&mut self, x: f32, y: f32) {
        let to = self.point(x, y);
        self.add(Stroke::Line(self.here, to));
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let (c, to) = (self.point(x1, y1), self.point(x, y));
        self.add(Stroke::Curve(Cubic::from_quadratic(self.here, c, to)));
    }
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let (c, d, to) = (self.point(x1, y1), self.point(x2, y2), self.point(x, y));
        self.add(Stroke::Curve(Cubic([self.here, c, d, to])));
    }
    fn close(&mut self) {
        self.add(Stroke::Line(self.here, self.start));
        let contour = fitted(&std::mem::take(&mut self.strokes), FIT).0;
        if contour.vertices.len() > 1 && contour.signed_area().abs() > 1e-9 {
            self.contours.push(contour);
        }
    }
}

fn outline(face: &Face, id: GlyphId, scale: f64, shift: f64) -> Vec<Contour> {
    let mut pen = Pen {
        scale,
        shift,
        start: Point::origin(),
        here: Point::origin(),
        strokes: Vec::new(),
        contours: Vec::new(),
    };
    face.outline_glyph(id, &mut pen);
    pen.contours
}

/// Clean regions from a glyph's contours: outer ones run one way, holes the other.
fn resolve(contours: Vec<Contour>) -> Option<Vec<Region>> {
    if contours.iter().any(|c| !c.is_simple()) {
        return None;
    }
    let largest = contours
        .iter()
        .map(Contour::signed_area)
        .max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
    let (outers, holes): (Vec<_>, Vec<_>) = contours
        .into_iter()
        .map(|c| if largest < 0.0 { c.reversed() } else { c })
        .partition(|c| c.signed_area() > 0.0);
    let meets = |a: &Contour, b: &Contour| !a.crossings(b).is_empty();
    let tangled = outers
        .iter()
        .enumerate()
        .any(|(i, a)| outers[..i].iter().any(|b| meets(a, b)) || holes.iter().any(|h| meets(a, h)));
    if !tangled {
        return Some(group(outers, holes));
    }
    let mut whole: Vec<Region> = Vec::new();
    for c in outers {
        whole = combine(Operation::Union, &whole, &[Region::simple(c)]).ok()?;
    }
    for h in holes {
        let hole = Region::simple(h.counter_clockwise());
        whole = combine(Operation::Difference, &whole, &[hole]).ok()?;
    }
    Some(whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_capital_h_has_its_height_and_is_centred() {
        let l = line("H", 7.0).unwrap();
        let b = l.bounds();
        assert!((b.height() - 7.0).abs() < 1e-9 && b.centre().coords.norm() < 1e-9);
        // The font's H: 1493 units high, stems 202 wide, crossbar 170 (its glyph table).
        assert!((l.narrowest_stroke - 7.0 * 170.0 / 1493.0).abs() < 1e-6);
    }

    #[test]
    fn holes_run_clockwise_and_the_dot_is_a_region_of_its_own() {
        let l = line("Bi", 10.0).unwrap();
        let b = &l.glyphs[0].regions;
        assert_eq!((b.len(), b[0].holes.len()), (1, 2));
        assert!(b[0].holes.iter().all(|h| h.signed_area() < 0.0));
        assert!(b[0].outer.signed_area() > 0.0);
        assert_eq!(l.glyphs[1].regions.len(), 2);
    }

    #[test]
    fn kerning_pulls_av_together() {
        let gap = |t: &str| {
            let l = line(t, 10.0).unwrap();
            let right = l.glyphs[1].regions[0].bounds().min.x;
            right - l.glyphs[0].regions[0].bounds().max.x
        };
        assert!(gap("AV") < gap("AN") - 0.3);
    }

    #[test]
    fn a_bent_text_has_its_feet_on_the_circle() {
        let straight = line("HIH", 5.0).unwrap();
        for under in [false, true] {
            let l = straight.bent(60.0, under).unwrap();
            // The I stands upright on the axis; the outer letters keep their distance along the circle.
            let i = l.glyphs[1].regions[0].bounds();
            let foot = if under { -30.0 } else { 30.0 };
            assert!((i.min.y - foot).abs() < 1e-6 && (i.height() - 5.0).abs() < 1e-6);
            let angle = |n: usize| {
                let flat = straight.glyphs[n].regions[0].bounds().centre().x;
                let c = l.glyphs[n].regions[0].bounds().centre();
                let spaced = if under { 25.0 } else { 30.0 };
                (flat / spaced, c.x.atan2(c.y.abs()))
            };
            for n in [0, 2] {
                let (want, is) = angle(n);
                assert!((want - is).abs() < 0.01, "{want} {is}");
            }
        }
        assert!(matches!(
            line("SALTMARSH", 5.0).unwrap().bent(9.0, false),
            Err(TextError::Crowded { .. })
        ));
    }

    #[test]
    fn unknown_characters_are_named() {
        let e = line("A\u{4e2d}", 5.0).unwrap_err();
        assert_eq!(e.to_string(), "the font has no character '中' (U+4E2D)");
        assert!(matches!(line("  ", 5.0), Err(TextError::Empty)));
        assert!(matches!(line("A\n", 5.0), Err(TextError::NoGlyph { .. })));
        assert!(line("A", 0.0).is_err() && line("A", f64::NAN).is_err());
    }

    #[test]
    fn letters_take_a_draft() {
        // 0.5 mm deep at 5.7° narrows a stroke by 0.05 mm per side; the notch of a B must survive it.
        for c in '!'..='~' {
            let l = line(&c.to_string(), 5.0).unwrap();
            for r in l.glyphs.iter().flat_map(|g| &g.regions) {
                for d in [0.05, -0.02] {
                    let m = r.mitred(d).unwrap_or_else(|e| panic!("{c}: {e}"));
                    let linear = r.area() - d * r.length();
                    assert!((m.area() - linear).abs() < 0.05 * r.area(), "{c}");
                }
            }
        }
    }

    #[test]
    fn all_printable_latin_letters_are_clean() {
        let letters: String = (' '..='~').chain('\u{a1}'..='\u{17f}').collect();
        for c in letters.chars().filter(|c| *c != ' ' && *c != '\u{ad}') {
            let l = line(&c.to_string(), 6.0).unwrap_or_else(|e| panic!("{e}"));
            for r in l.glyphs.iter().flat_map(|g| &g.regions) {
                assert!(
                    r.area() > 0.0 && r.contours().all(Contour::is_simple),
                    "{c}"
                );
                assert!(r.holes.iter().all(|h| r.outer.encloses(h)), "{c}");
            }
        }
    }
}
