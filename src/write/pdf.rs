//! Drawings as PDF: one page each, one unit is one millimetre.
//!
//! Input: [`Drawing`]s. Output: the bytes of a PDF 1.7 file with the letters that are used
//! embedded. No clock and no random number goes in. Coordinates are rounded to 0.0001 mm.

mod fonts;

use super::drawing::text::{Typeface, em};
use super::drawing::{Anchor, Drawing, Item, Pen, Text};
use crate::sketch::{Point, Segment};
use flate2::Compression;
use flate2::write::ZlibEncoder;
use fonts::Fonts;
use nalgebra::Vector2;
use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use std::io::Write as _;

/// Points of 1/72 inch in a millimetre.
const POINTS: f64 = 72.0 / 25.4;

/// What can go wrong while a file is written.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// A sheet without a size, or larger than the format allows (200 inches).
    #[error("a sheet of {0} × {1} mm")]
    Sheet(f64, f64),
    /// A built-in font cannot be cut down.
    #[error("font: {0}")]
    Font(String),
    /// More sheets or memory than can be had.
    #[error("{0}")]
    Size(String),
}

/// Gives out numbers of objects.
struct Refs(i32);

impl Refs {
    fn next(&mut self) -> Ref {
        self.0 += 1;
        Ref::new(self.0)
    }
}

/// The file.
///
/// # Errors
/// A sheet without a size; what a font refuses.
pub fn file(title: &str, author: &str, sheets: &[Drawing]) -> Result<Vec<u8>, PdfError> {
    let mut pdf = Pdf::new();
    let mut refs = Refs(0);
    let (catalog, tree) = (refs.next(), refs.next());
    pdf.catalog(catalog)
        .pages(tree)
        .lang(TextStr("en"))
        .viewer_preferences()
        .display_doc_title(true)
        // So that the print dialogue offers actual size first.
        .pair(Name(b"PrintScaling"), Name(b"None"));
    let mut fonts = Fonts::default();
    let mut pages = Vec::with_capacity(sheets.len());
    for sheet in sheets {
        let fits = |v: f64| v > 0.0 && v * POINTS <= 14_400.0;
        if !fits(sheet.width) || !fits(sheet.height) {
            return Err(PdfError::Sheet(sheet.width, sheet.height));
        }
        let mut writer = Writer {
            content: Content::new(),
            fonts: &mut fonts,
            pen: None,
        };
        let p = POINTS as f32;
        writer.content.transform([p, 0.0, 0.0, p, 0.0, 0.0]);
        writer.content.set_line_join(LineJoinStyle::RoundJoin);
        writer.content.set_line_cap(LineCapStyle::ButtCap);
        sheet.items.iter().for_each(|i| writer.item(i));
        let body = packed(&writer.content.finish())?;
        let id = refs.next();
        pdf.stream(id, &body).filter(Filter::FlateDecode);
        pages.push((refs.next(), id, sheet));
    }
    let faces = fonts.write(&mut pdf, &mut refs)?;
    pdf.pages(tree)
        .kids(pages.iter().map(|p| p.0))
        .count(i32::try_from(pages.len()).map_err(|e| PdfError::Size(e.to_string()))?);
    for (id, content, sheet) in pages {
        let mut page = pdf.page(id);
        let (w, h) = (
            (sheet.width * POINTS) as f32,
            (sheet.height * POINTS) as f32,
        );
        page.parent(tree)
            .media_box(Rect::new(0.0, 0.0, w, h))
            .contents(content);
        let mut resources = page.resources();
        let mut list = resources.fonts();
        for (face, font) in &faces {
            list.pair(fonts::name(*face), *font);
        }
    }
    let mut info = pdf.document_info(refs.next());
    info.title(TextStr(title)).creator(TextStr("Platewright"));
    if !author.is_empty() {
        info.author(TextStr(author));
    }
    info.finish();
    Ok(pdf.finish())
}

/// Bytes compressed as the format wants them.
fn packed(bytes: &[u8]) -> Result<Vec<u8>, PdfError> {
    let failed = |e: std::io::Error| PdfError::Size(e.to_string());
    let mut z = ZlibEncoder::new(Vec::with_capacity(bytes.len() / 3), Compression::new(6));
    z.write_all(bytes).map_err(failed)?;
    z.finish().map_err(failed)
}

/// Tenths of a micrometre are kept.
fn n(v: f64) -> f32 {
    ((v * 1e4).round() / 1e4) as f32
}

struct Writer<'a> {
    content: Content,
    fonts: &'a mut Fonts,
    /// The pen that is set.
    pen: Option<Pen>,
}

impl Writer<'_> {
    fn item(&mut self, item: &Item) {
        match item {
            Item::Line(a, b, pen) => self.lines(&[(*a, *b)], *pen),
            Item::Lines(all, pen) => self.lines(all, *pen),
            Item::Circle(c, r, pen) => {
                let half =
                    |s: f64| Segment::arc(Point::new(c.x + s * r, c.y), *c, std::f64::consts::PI);
                self.stroke([half(1.0), half(-1.0)].into_iter(), true, *pen);
            }
            Item::Contour(c, pen) => self.stroke(c.segments(), true, *pen),
            Item::Path(p, pen) => self.stroke(p.segments(), false, *pen),
            Item::Filled(points) => self.polygon(points, 0),
            Item::Shade(points, grey) => self.polygon(points, *grey),
            Item::Text(t) => self.text(t),
            Item::Clipped(c, items) => {
                self.content.save_state();
                let before = self.pen;
                self.path(c.segments(), true);
                self.content.clip_nonzero().end_path();
                items.iter().for_each(|i| self.item(i));
                self.content.restore_state();
                self.pen = before;
            }
        }
    }
    fn set(&mut self, pen: Pen) {
        if self.pen == Some(pen) {
            return;
        }
        self.pen = Some(pen);
        self.content.set_line_width(n(pen.width()));
        let dashes = pen.dashes().iter().map(|d| *d as f32);
        self.content.set_dash_pattern(dashes, 0.0);
    }
    fn lines(&mut self, all: &[(Point, Point)], pen: Pen) {
        if all.is_empty() {
            return;
        }
        self.set(pen);
        for (from, to) in all {
            self.content.move_to(n(from.x), n(from.y));
            self.content.line_to(n(to.x), n(to.y));
        }
        self.content.stroke();
    }
    fn stroke(&mut self, segments: impl Iterator<Item = Segment>, closed: bool, pen: Pen) {
        self.set(pen);
        if self.path(segments, closed) {
            self.content.stroke();
        }
    }
    /// Lines and arcs as a path; arcs become cubics of at most 45°, within 5e-6 of their
    /// radius. False when there is nothing.
    fn path(&mut self, segments: impl Iterator<Item = Segment>, closed: bool) -> bool {
        let mut begun = false;
        for s in segments {
            if !begun {
                self.content.move_to(n(s.from().x), n(s.from().y));
                begun = true;
            }
            match s {
                Segment::Line { to, .. } => {
                    self.content.line_to(n(to.x), n(to.y));
                }
                Segment::Arc {
                    from,
                    to,
                    centre,
                    sweep,
                    ..
                } => self.arc(from - centre, to, centre, sweep),
            }
        }
        if closed && begun {
            self.content.close_path();
        }
        begun
    }
    /// An arc from `centre + arm` on.
    fn arc(&mut self, arm: Vector2<f64>, to: Point, centre: Point, sweep: f64) {
        let pieces = (sweep.abs() / std::f64::consts::FRAC_PI_4 - 1e-9)
            .ceil()
            .max(1.0);
        let turn = sweep / pieces;
        // Length of a handle, in radii, of the cubic that comes nearest to such an arc.
        let k = 4.0 / 3.0 * (0.25 * turn).tan();
        let (sin, cos) = turn.sin_cos();
        let mut u = arm;
        for i in 1..=pieces as usize {
            let v = Vector2::new(cos * u.x - sin * u.y, sin * u.x + cos * u.y);
            let end = if i == pieces as usize { to } else { centre + v };
            let a = centre + u + Vector2::new(-u.y, u.x) * k;
            let b = end - Vector2::new(-v.y, v.x) * k;
            let c = &mut self.content;
            c.cubic_to(n(a.x), n(a.y), n(b.x), n(b.y), n(end.x), n(end.y));
            u = v;
        }
    }
    fn polygon(&mut self, points: &[Point], grey: u8) {
        let Some(first) = points.first() else { return };
        self.content.set_fill_gray(f32::from(grey) / 255.0);
        self.content.move_to(n(first.x), n(first.y));
        for p in &points[1..] {
            self.content.line_to(n(p.x), n(p.y));
        }
        self.content.close_path().fill_nonzero();
        self.content.set_fill_gray(0.0);
    }
    fn text(&mut self, t: &Text) {
        if t.text.is_empty() {
            return;
        }
        let face = Typeface::of_text(t);
        let size = em(t.height);
        let (codes, ems) = self.fonts.encode(face, &t.text);
        let back = match t.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => 0.5 * ems * size,
            Anchor::End => ems * size,
        };
        let (sin, cos) = t.angle_deg.to_radians().sin_cos();
        let at = t.at - Vector2::new(cos, sin) * back;
        let (s, c) = (sin as f32, cos as f32);
        self.content.begin_text();
        self.content.set_font(fonts::name(face), n(size));
        self.content
            .set_text_matrix([c, s, -s, c, n(at.x), n(at.y)]);
        self.content.show(Str(&codes));
        self.content.end_text();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet() -> Drawing {
        Drawing {
            width: 210.0,
            height: 297.0,
            title: "t".into(),
            items: vec![
                Item::Line(
                    Point::new(10.0, 10.0),
                    Point::new(110.0, 10.0),
                    Pen::Outline,
                ),
                Item::Circle(Point::new(50.0, 50.0), 20.0, Pen::Centre),
                Item::Text(Text::new(Point::new(10.0, 20.0), "ø 6 H7 – Ωж\u{10ffff}", 3.5).bold()),
                Item::Text(Text::new(Point::new(10.0, 30.0), "", 3.5)),
            ],
        }
    }

    #[test]
    fn the_same_drawing_gives_the_same_bytes_with_a_font_inside() {
        let a = file("t", "", &[sheet()]).expect("a file");
        assert_eq!(a, file("t", "", &[sheet()]).expect("a file"));
        assert!(a.starts_with(b"%PDF-") && a.len() < 60_000, "{}", a.len());
        let text = String::from_utf8_lossy(&a);
        assert!(text.contains("FontFile2") && !text.contains("CreationDate"));
        // 210 × 297 mm in points.
        assert!(text.contains("595.27") && text.contains("841.88"), "{text}");
    }

    #[test]
    fn a_sheet_without_a_size_is_refused() {
        let flat = Drawing::default();
        assert!(matches!(file("t", "", &[flat]), Err(PdfError::Sheet(..))));
    }

    #[test]
    fn arcs_stay_within_a_hair_of_the_circle() {
        let mut fonts = Fonts::default();
        let mut w = Writer {
            content: Content::new(),
            fonts: &mut fonts,
            pen: None,
        };
        w.item(&Item::Circle(Point::origin(), 500.0, Pen::Narrow));
        let text = String::from_utf8(w.content.finish().to_vec()).expect("text");
        let mut at = Vector2::new(500.0, 0.0);
        let mut seen = 0;
        for line in text.lines().filter(|l| l.ends_with(" c")) {
            let v: Vec<f64> = line.split(' ').filter_map(|w| w.parse().ok()).collect();
            let p = |i: usize| Vector2::new(v[i], v[i + 1]);
            for k in 0..=20 {
                let t = f64::from(k) / 20.0;
                let s = 1.0 - t;
                let q = at * (s * s * s)
                    + p(0) * (3.0 * s * s * t)
                    + p(2) * (3.0 * s * t * t)
                    + p(4) * (t * t * t);
                assert!((q.norm() - 500.0).abs() < 0.003, "{}", q.norm());
            }
            at = p(4);
            seen += 1;
        }
        assert_eq!(seen, 8);
    }
}
