//! How an SVG element is painted: attributes, style sheets, `style`.

use roxmltree::Node;
use simplecss::{AttributeOperator, DeclarationTokenizer, Element, PseudoClass, StyleSheet};
use std::str::FromStr;
use svgtypes::{Color, Paint as SvgPaint};

/// Paint nearer to white than this takes away: each of red, green, blue of 255.
const WHITE: u8 = 250;
/// Most rules of all style sheets together.
pub(super) const MOST_RULES: usize = 2000;

/// What a surface is painted with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Paint {
    None,
    White,
    Colour,
}

impl Paint {
    fn of(text: &str, inherited: Paint) -> Paint {
        match SvgPaint::from_str(text.trim()) {
            Ok(SvgPaint::None) => Paint::None,
            Ok(SvgPaint::Inherit) => inherited,
            Ok(SvgPaint::Color(c)) if c.alpha == 0 => Paint::None,
            Ok(SvgPaint::Color(Color {
                red, green, blue, ..
            })) if red.min(green).min(blue) >= WHITE => Paint::White,
            _ => Paint::Colour,
        }
    }
}

/// The properties that matter, as inherited.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Style {
    pub fill: Paint,
    pub stroke: Paint,
    pub evenodd: bool,
    pub clip_evenodd: bool,
    pub visible: bool,
    /// Lines are dashed.
    pub dashed: bool,
    /// Not inherited: the element and all in it are left out.
    pub gone: bool,
    fill_seen: bool,
    stroke_seen: bool,
    /// Width of lines, in units of the element.
    stroke_width: f64,
}

impl Default for Style {
    fn default() -> Self {
        Self {
            fill: Paint::Colour,
            stroke: Paint::None,
            evenodd: false,
            clip_evenodd: false,
            visible: true,
            dashed: false,
            gone: false,
            fill_seen: true,
            stroke_seen: true,
            stroke_width: 1.0,
        }
    }
}

impl Style {
    /// True when the surface is painted.
    pub(super) fn is_filled(&self) -> bool {
        self.visible && self.fill != Paint::None && self.fill_seen
    }
    /// True when its edge is drawn as a line.
    pub(super) fn is_stroked(&self) -> bool {
        self.visible && self.stroke == Paint::Colour && self.stroke_seen && self.stroke_width > 0.0
    }
    /// Width of its lines, in units of the element.
    pub(super) fn pen(&self) -> f64 {
        self.stroke_width
    }
    /// The style of a child.
    pub(super) fn of(&self, node: Node<'_, '_>, sheet: &StyleSheet<'_>) -> Style {
        let mut s = *self;
        for a in node.attributes().filter(|a| a.namespace().is_none()) {
            s.set(a.name(), a.value());
        }
        for rule in sheet.rules.iter().take(MOST_RULES) {
            if rule.selector.matches(&Styled(node)) {
                for d in &rule.declarations {
                    s.set(d.name, d.value);
                }
            }
        }
        if let Some(text) = node.attribute("style") {
            for d in DeclarationTokenizer::from(text) {
                s.set(d.name, d.value);
            }
        }
        s
    }
    fn set(&mut self, name: &str, value: &str) {
        let value = value.trim();
        let nothing = |v: &str| {
            v.trim_end_matches('%')
                .parse::<f64>()
                .is_ok_and(|v| v <= 0.0)
        };
        match name {
            "fill" => self.fill = Paint::of(value, self.fill),
            "stroke" => self.stroke = Paint::of(value, self.stroke),
            "fill-opacity" => self.fill_seen = !nothing(value),
            "stroke-opacity" => self.stroke_seen = !nothing(value),
            "stroke-width" => {
                // Units of a line's width: CSS, 96 px to the inch.
                if let Ok(w) = svgtypes::Length::from_str(value) {
                    use svgtypes::LengthUnit::{Cm, In, Mm, None as Plain, Pc, Percent, Pt, Px};
                    self.stroke_width = w.number
                        * match w.unit {
                            Plain | Px => 1.0,
                            In => 96.0,
                            Cm => 96.0 / 2.54,
                            Mm => 96.0 / 25.4,
                            Pt => 96.0 / 72.0,
                            Pc => 16.0,
                            // Of the font or the window, which a drawing does not say.
                            Percent | svgtypes::LengthUnit::Em | svgtypes::LengthUnit::Ex => 1.0,
                        };
                }
            }
            "stroke-dasharray" => self.dashed = value != "none",
            "fill-rule" => self.evenodd = value == "evenodd",
            "clip-rule" => self.clip_evenodd = value == "evenodd",
            "visibility" => self.visible = value == "visible",
            "display" if value == "none" => self.gone = true,
            "opacity" if nothing(value) => self.gone = true,
            _ => {}
        }
    }
}

/// An element as the style sheet's selectors see it.
struct Styled<'a, 'i>(Node<'a, 'i>);

impl Element for Styled<'_, '_> {
    fn parent_element(&self) -> Option<Self> {
        self.0.parent_element().map(Styled)
    }
    fn prev_sibling_element(&self) -> Option<Self> {
        self.0.prev_sibling_element().map(Styled)
    }
    fn has_local_name(&self, name: &str) -> bool {
        self.0.tag_name().name() == name
    }
    fn attribute_matches(&self, name: &str, operator: AttributeOperator<'_>) -> bool {
        self.0.attribute(name).is_some_and(|v| operator.matches(v))
    }
    fn pseudo_class_matches(&self, class: PseudoClass<'_>) -> bool {
        matches!(class, PseudoClass::FirstChild) && self.0.prev_sibling_element().is_none()
    }
}
