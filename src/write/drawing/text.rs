//! How much room a text takes.
//!
//! Input: a text and its height. Output: widths and boxes, by the advance widths of
//! DejaVu Sans (the font named first in the drawings; its common stand-ins are
//! narrower or equal).

use super::{Anchor, Text};
use crate::sketch::Point;
use std::sync::OnceLock;
use ttf_parser::Face;

/// Height of capitals of DejaVu Sans : font size (1493 of 2048 units).
const CAPITALS: f64 = 1493.0 / 2048.0;

/// Font size of a text with capitals of this height, mm.
pub fn em(capital_height: f64) -> f64 {
    capital_height / CAPITALS
}

/// The typefaces in use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Typeface {
    /// DejaVu Sans.
    Regular,
    /// DejaVu Sans Bold.
    Bold,
    /// DejaVu Sans Condensed: a tenth narrower, for tables.
    Condensed,
    /// DejaVu Sans Condensed Bold.
    CondensedBold,
}

/// Advance of a letter that no font has, in ems: that of a wide one.
const UNKNOWN: f64 = 1400.0 / 2048.0;

/// Letters looked up in a table before the font is asked: Latin and its neighbours.
const COMMON: usize = 0x180;

impl Typeface {
    /// The one for plain or bold text.
    pub fn of(bold: bool) -> Self {
        if bold { Self::Bold } else { Self::Regular }
    }
    /// The one a text is set in.
    pub fn of_text(t: &Text) -> Self {
        match (t.condensed, t.bold) {
            (false, bold) => Self::of(bold),
            (true, false) => Self::Condensed,
            (true, true) => Self::CondensedBold,
        }
    }
    /// Width of a text, mm.
    pub fn width(self, text: &str, capital_height: f64) -> f64 {
        let ems: f64 = text.chars().map(|c| self.glyph(c).1).sum();
        ems * em(capital_height)
    }
    /// The font file.
    pub fn bytes(self) -> &'static [u8] {
        match self {
            Self::Regular => dejavu::sans::regular(),
            Self::Bold => dejavu::sans::bold(),
            Self::Condensed => dejavu::sans_condensed::regular(),
            Self::CondensedBold => dejavu::sans_condensed::bold(),
        }
    }
    /// Number of the glyph of a character (0: the box for what is missing) and its advance
    /// in ems.
    pub fn glyph(self, c: char) -> (u16, f64) {
        static REGULAR: OnceLock<Glyphs> = OnceLock::new();
        static BOLD: OnceLock<Glyphs> = OnceLock::new();
        static CONDENSED: OnceLock<Glyphs> = OnceLock::new();
        static CONDENSED_BOLD: OnceLock<Glyphs> = OnceLock::new();
        let cell = match self {
            Self::Regular => &REGULAR,
            Self::Bold => &BOLD,
            Self::Condensed => &CONDENSED,
            Self::CondensedBold => &CONDENSED_BOLD,
        };
        let glyphs = cell.get_or_init(|| Glyphs::of(self));
        let common = glyphs.common.get(c as usize).copied();
        common.unwrap_or_else(|| glyphs.look_up(c))
    }
}

/// A font's glyphs, the common ones at hand.
struct Glyphs {
    face: Option<Face<'static>>,
    common: Vec<(u16, f64)>,
}

impl Glyphs {
    fn of(typeface: Typeface) -> Self {
        let mut out = Self {
            face: Face::parse(typeface.bytes(), 0).ok(),
            common: Vec::new(),
        };
        out.common = (0..COMMON as u32)
            .map(|c| char::from_u32(c).map_or((0, UNKNOWN), |c| out.look_up(c)))
            .collect();
        out
    }
    fn look_up(&self, c: char) -> (u16, f64) {
        self.face
            .as_ref()
            .and_then(|f| {
                let glyph = f.glyph_index(c)?;
                Some((glyph.0, f64::from(f.glyph_hor_advance(glyph)?) / 2048.0))
            })
            .unwrap_or((0, UNKNOWN))
    }
}

/// Width of a text, mm.
pub fn width(text: &str, capital_height: f64, bold: bool) -> f64 {
    Typeface::of(bold).width(text, capital_height)
}

/// A text made to fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// What is left of it.
    pub text: String,
    /// Height of capitals, mm.
    pub height: f64,
}

/// The text at the first of these heights that fits into the width; at the last, cut with an
/// ellipsis, where none does.
pub fn fitted(text: &str, room: f64, heights: &[f64], bold: bool) -> Line {
    fitted_in(Typeface::of(bold), text, room, heights)
}

/// [`fitted`] in a typeface.
pub fn fitted_in(face: Typeface, text: &str, room: f64, heights: &[f64]) -> Line {
    let line = |text: String, height| Line { text, height };
    for h in heights {
        if face.width(text, *h) <= room {
            return line(text.to_owned(), *h);
        }
    }
    let least = heights.last().copied().unwrap_or(2.5);
    let mut short: String = text.to_owned();
    while short.pop().is_some() {
        let shown = format!("{}…", short.trim_end());
        if face.width(&shown, least) <= room {
            return line(shown, least);
        }
    }
    line(String::new(), least)
}

/// A text broken into lines no wider than `room`, between words; a word that is wider alone is
/// broken within. A line break in the text is kept.
pub fn wrap(text: &str, room: f64, capital_height: f64, bold: bool) -> Vec<String> {
    wrap_in(Typeface::of(bold), text, room, capital_height)
}

/// [`wrap`] in a typeface.
pub fn wrap_in(face: Typeface, text: &str, room: f64, capital_height: f64) -> Vec<String> {
    let fits = |s: &str| face.width(s, capital_height) <= room;
    let mut out = Vec::new();
    for paragraph in text.split('\n') {
        let mut line = String::new();
        for word in paragraph.split(' ').filter(|w| !w.is_empty()) {
            let longer = if line.is_empty() {
                word.to_owned()
            } else {
                format!("{line} {word}")
            };
            if fits(&longer) {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                out.push(std::mem::take(&mut line));
            }
            for piece in pieces(word) {
                if !line.is_empty() && !fits(&format!("{line}{piece}")) {
                    out.push(std::mem::take(&mut line));
                }
                for c in piece.chars() {
                    line.push(c);
                    if !fits(&line) && line.chars().count() > 1 {
                        line.pop();
                        out.push(std::mem::take(&mut line));
                        line.push(c);
                    }
                }
            }
        }
        out.push(line);
    }
    out
}

/// Where a word that is too long may be broken without a hyphen: behind what joins names, not
/// within a number.
fn pieces(word: &str) -> impl Iterator<Item = &str> {
    let mut rest = word;
    std::iter::from_fn(move || {
        let joint = rest.char_indices().find(|&(i, c)| {
            matches!(c, '.' | '_' | '/' | '-')
                && rest[i + 1..].starts_with(|next: char| next.is_alphabetic())
        });
        let (piece, after) = rest.split_at(joint.map_or(rest.len(), |j| j.0 + 1));
        rest = after;
        (!piece.is_empty()).then_some(piece)
    })
}

/// Width of the longest piece of a text that is not broken in between, mm.
pub fn longest_piece(face: Typeface, text: &str, capital_height: f64) -> f64 {
    text.split_whitespace()
        .flat_map(pieces)
        .map(|p| face.width(p, capital_height))
        .fold(0.0, f64::max)
}

/// An axis-parallel box, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Box2 {
    /// Lower left corner.
    pub low: Point,
    /// Upper right corner.
    pub high: Point,
}

impl Box2 {
    /// The box around a centre.
    pub fn around(centre: Point, half_width: f64, half_height: f64) -> Self {
        Self {
            low: Point::new(centre.x - half_width, centre.y - half_height),
            high: Point::new(centre.x + half_width, centre.y + half_height),
        }
    }
    /// True when the two share an area.
    pub fn overlaps(&self, other: &Box2) -> bool {
        self.low.x < other.high.x
            && other.low.x < self.high.x
            && self.low.y < other.high.y
            && other.low.y < self.high.y
    }
    /// True when `other` lies inside.
    pub fn holds(&self, other: &Box2) -> bool {
        self.low.x <= other.low.x
            && self.low.y <= other.low.y
            && self.high.x >= other.high.x
            && self.high.y >= other.high.y
    }
    /// Grown on every side.
    #[must_use]
    pub fn grown(&self, by: f64) -> Self {
        Self {
            low: Point::new(self.low.x - by, self.low.y - by),
            high: Point::new(self.high.x + by, self.high.y + by),
        }
    }
}

/// Box of a text that is level or turned by a quarter (90°): capitals and descenders.
pub fn extent(t: &Text) -> Box2 {
    let w = Typeface::of_text(t).width(&t.text, t.height);
    let (left, right) = match t.anchor {
        Anchor::Start => (0.0, w),
        Anchor::Middle => (-0.5 * w, 0.5 * w),
        Anchor::End => (-w, 0.0),
    };
    let (down, up) = (-0.32 * t.height, 1.05 * t.height);
    let (sin, cos) = t.angle_deg.to_radians().sin_cos();
    let corner =
        |x: f64, y: f64| Point::new(t.at.x + cos * x - sin * y, t.at.y + sin * x + cos * y);
    let (a, b) = (corner(left, down), corner(right, up));
    Box2 {
        low: Point::new(a.x.min(b.x), a.y.min(b.y)),
        high: Point::new(a.x.max(b.x), a.y.max(b.y)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_broken_at_their_joints_and_numbers_nowhere() {
        let of = |word| pieces(word).collect::<Vec<_>>();
        assert_eq!(of("shop.end_mills"), ["shop.", "end_", "mills"]);
        assert_eq!(of("ø21.623"), ["ø21.623"]);
        assert_eq!(of("1/2-14"), ["1/2-14"]);
        assert_eq!(of("a."), ["a."]);
    }

    #[test]
    fn capitals_have_the_height_that_is_asked_for() {
        // The font's own bounding box of "H" says so.
        let f = Face::parse(Typeface::Regular.bytes(), 0).expect("the font");
        let glyph = f.glyph_index('H').expect("H");
        let b = f.glyph_bounding_box(glyph).expect("a box");
        assert_eq!((b.y_min, b.y_max), (0, 1493));
        assert_eq!(f.units_per_em(), 2048);
        assert!((em(2.5) - 3.4293).abs() < 1e-4);
        assert!(width("MMMM", 2.5, false) > width("iiii", 2.5, false));
    }

    #[test]
    fn texts_are_wrapped_and_cut_to_the_room() {
        let text =
            "clamp with the parting face up on parallels; Donaudampfschifffahrtsgesellschaft";
        let lines = wrap(text, 40.0, 2.5, false);
        assert!(lines.len() > 2);
        assert!(lines.iter().all(|l| width(l, 2.5, false) <= 40.0));
        let joined: String = lines.concat();
        assert_eq!(joined.replace(' ', ""), text.replace(' ', ""));
        assert_eq!(wrap("", 40.0, 2.5, false), [""]);
        assert_eq!(fitted("short", 40.0, &[3.5, 2.5], false).height, 3.5);
        let cut = fitted(text, 40.0, &[3.5, 2.5], false);
        assert!(cut.text.ends_with('…') && width(&cut.text, 2.5, false) <= 40.0);
    }

    #[test]
    fn a_turned_text_has_a_turned_box() {
        let t = Text::new(Point::new(10.0, 10.0), "120", 3.5);
        let w = width("120", 3.5, false);
        let b = extent(&t);
        assert!((b.high.x - b.low.x - w).abs() < 1e-9);
        let b = extent(&t.turned(90.0));
        assert!((b.high.y - b.low.y - w).abs() < 1e-9 && b.high.x < 11.5 && b.low.x < 7.0);
    }
}
