//! A drawing as SVG: one unit is one millimetre.
//!
//! Input: a [`Drawing`]. Output: the text of a standalone SVG file, black on white, no
//! scripts, no outside references.

use super::{Anchor, Drawing, Item, Pen, Text};
use crate::base::units::decimals;
use crate::sketch::{Contour, Point, Segment};
use crate::write::markup::escape;
use std::fmt::Write;

/// A whole file.
pub fn file(drawing: &Drawing) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}",
        write(drawing, "", " xmlns=\"http://www.w3.org/2000/svg\"")
    )
}

/// The `svg` element alone, to be put into a page, where it needs no name space; `prefix` makes
/// its ids unique there.
pub fn element(drawing: &Drawing, prefix: &str) -> String {
    write(drawing, prefix, "")
}

fn write(drawing: &Drawing, prefix: &str, name_space: &str) -> String {
    let mut w = Writer {
        out: String::new(),
        height: drawing.height,
        clips: 0,
        prefix: escape(prefix),
    };
    let (width, height) = (n(drawing.width), n(drawing.height));
    w.line(format_args!(
        "<svg{name_space} width=\"{width}mm\" height=\"{height}mm\" \
         viewBox=\"0 0 {width} {height}\" fill=\"none\" stroke=\"#000\" \
         stroke-linejoin=\"round\" font-family=\"'DejaVu Sans',Verdana,sans-serif\">"
    ));
    w.line(format_args!("<title>{}</title>", escape(&drawing.title)));
    w.line(format_args!(
        "<rect width=\"{width}\" height=\"{height}\" fill=\"#fff\" stroke=\"none\"/>"
    ));
    for item in &drawing.items {
        w.item(item);
    }
    w.line(format_args!("</svg>"));
    w.out
}

/// A number with at most a thousandth of a millimetre.
fn n(value: f64) -> String {
    decimals(value, 3)
}

struct Writer {
    out: String,
    height: f64,
    clips: usize,
    prefix: String,
}

impl Writer {
    fn line(&mut self, text: std::fmt::Arguments<'_>) {
        // Writing to a String cannot fail.
        let _ = writeln!(self.out, "{text}");
    }
    fn xy(&self, p: Point) -> String {
        format!("{} {}", n(p.x), n(self.height - p.y))
    }
    fn item(&mut self, item: &Item) {
        match item {
            Item::Line(a, b, pen) => {
                let d = format!("M{}L{}", self.xy(*a), self.xy(*b));
                self.stroke(&d, *pen);
            }
            Item::Lines(all, pen) => {
                let d: String = all
                    .iter()
                    .map(|(a, b)| format!("M{}L{}", self.xy(*a), self.xy(*b)))
                    .collect();
                if !d.is_empty() {
                    self.stroke(&d, *pen);
                }
            }
            Item::Circle(c, r, pen) => {
                let (x, y) = (n(c.x), n(self.height - c.y));
                let pen = attributes(*pen);
                self.line(format_args!(
                    "<circle cx=\"{x}\" cy=\"{y}\" r=\"{}\"{pen}/>",
                    n(*r)
                ));
            }
            Item::Contour(c, pen) => {
                let d = self.contour(c);
                self.stroke(&d, *pen);
            }
            Item::Path(p, pen) => {
                let d = self.chain(p.segments(), p.vertices.first().map(|v| v.at));
                self.stroke(&d, *pen);
            }
            Item::Filled(points) => self.polygon(points, "#000"),
            Item::Shade(points, g) => self.polygon(points, &format!("#{g:02x}{g:02x}{g:02x}")),
            Item::Text(t) => self.text(t),
            Item::Clipped(c, items) => {
                self.clips += 1;
                let id = format!("{}clip{}", self.prefix, self.clips);
                let d = self.contour(c);
                self.line(format_args!(
                    "<clipPath id=\"{id}\"><path d=\"{d}\"/></clipPath>"
                ));
                self.line(format_args!("<g clip-path=\"url(#{id})\">"));
                for i in items {
                    self.item(i);
                }
                self.line(format_args!("</g>"));
            }
        }
    }
    fn stroke(&mut self, d: &str, pen: Pen) {
        let pen = attributes(pen);
        self.line(format_args!("<path d=\"{d}\"{pen}/>"));
    }
    fn contour(&self, c: &Contour) -> String {
        self.chain(c.segments(), c.vertices.first().map(|v| v.at)) + "Z"
    }
    fn chain(&self, segments: impl Iterator<Item = Segment>, start: Option<Point>) -> String {
        let Some(start) = start else {
            return String::new();
        };
        let mut d = format!("M{}", self.xy(start));
        for s in segments {
            match s {
                Segment::Line { to, .. } => d.push_str(&format!("L{}", self.xy(to))),
                Segment::Arc {
                    to, radius, sweep, ..
                } => {
                    // y is turned round, so a left turn is SVG's negative sweep.
                    let left = u8::from(sweep < 0.0);
                    let r = n(radius);
                    d.push_str(&format!("A{r} {r} 0 0 {left} {}", self.xy(to)));
                }
            }
        }
        d
    }
    fn polygon(&mut self, points: &[Point], fill: &str) {
        let list: Vec<String> = points.iter().map(|p| self.xy(*p)).collect();
        self.line(format_args!(
            "<polygon points=\"{}\" fill=\"{fill}\" stroke=\"none\"/>",
            list.join(" ")
        ));
    }
    fn text(&mut self, t: &Text) {
        let anchor = match t.anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let (x, y) = (n(t.at.x), n(self.height - t.at.y));
        let turn = if t.angle_deg == 0.0 {
            String::new()
        } else {
            format!(" transform=\"rotate({} {x} {y})\"", n(-t.angle_deg))
        };
        let bold = if t.bold { " font-weight=\"bold\"" } else { "" };
        let narrow = if t.condensed {
            " font-stretch=\"condensed\""
        } else {
            ""
        };
        self.line(format_args!(
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{}\"{anchor}{bold}{narrow}{turn} \
             fill=\"#000\" stroke=\"none\">{}</text>",
            n(super::text::em(t.height)),
            escape(&t.text)
        ));
    }
}

fn attributes(pen: Pen) -> String {
    let mut out = format!(" stroke-width=\"{}\"", n(pen.width()));
    let dashes = pen.dashes();
    if !dashes.is_empty() {
        let list: Vec<String> = dashes.iter().map(|d| n(*d)).collect();
        out.push_str(&format!(" stroke-dasharray=\"{}\"", list.join(" ")));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;
    use crate::sketch::Vertex;

    #[test]
    fn left_arcs_stay_left_and_text_is_escaped() {
        let arc = Contour::new(vec![
            Vertex::new(10.0, 0.0, 0.414_213_562_373_095_03),
            Vertex::new(0.0, 10.0, 0.0),
            Vertex::new(0.0, 0.0, 0.0),
        ]);
        let d = Drawing {
            width: 20.0,
            height: 20.0,
            title: "a < b & \"c\"".into(),
            items: vec![
                Item::Contour(arc, Pen::Outline),
                Item::Text(Text::new(Point::new(1.0, 2.0), "<b>'&", 2.5)),
                Item::Clipped(
                    sample::rectangle(0.0, 0.0, 5.0, 5.0).outer,
                    vec![Item::Line(
                        Point::origin(),
                        Point::new(9.0, 9.0),
                        Pen::Centre,
                    )],
                ),
            ],
        };
        let svg = file(&d);
        // (10,0) → (0,10) about the origin, seen with y down: from (10,20) to (0,10), sweep 0.
        assert!(svg.contains("M10 20A10 10 0 0 0 0 10L0 20L10 20Z"), "{svg}");
        assert!(svg.contains("<title>a &lt; b &amp; &quot;c&quot;</title>"));
        assert!(svg.contains(">&lt;b&gt;&#39;&amp;</text>"));
        assert!(svg.contains("clip-path=\"url(#clip1)\""));
        assert!(svg.contains("stroke-dasharray=\"6 0.75 0.125 0.75\""));
    }
}
