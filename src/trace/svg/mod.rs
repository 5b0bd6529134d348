//! SVG: filled shapes with their transforms, groups, style and fill rules.
//!
//! Input: the file's bytes. Output: a [`Sheet`]. Paths, the basic shapes, `use`, nested
//! `svg`, groups and style sheets are read; lines without a fill, text and pixel pictures are
//! refused with what to do about them. Source of the rules: SVG 1.1 and SVG 2.

mod path;
mod shape;
mod style;

use super::affine::Affine;
use super::error::TraceError;
use super::sheet::{Chain, DrawnShape, Sheet};
use super::{MOST_STROKES, no_such_layer, too_many};
use crate::sketch::Bounds;
use crate::sketch::winding::FillRule;
use roxmltree::{Document, Node, ParsingOptions};
use simplecss::StyleSheet;
use std::collections::{BTreeMap, BTreeSet};
use std::str::FromStr;
use style::{MOST_RULES, Paint, Style};
use svgtypes::{LengthUnit, TransformListParser, ViewBox};

/// Most elements of a file.
const MOST_NODES: u32 = 200_000;
/// Most elements drawn, counting each use of a repeated one.
const MOST_VISITS: usize = 50_000;
/// Deepest nesting of groups.
const DEEPEST: usize = 100;
/// The namespace of links.
const XLINK: &str = "http://www.w3.org/1999/xlink";

/// Reads a drawing.
pub(super) fn read(bytes: &[u8], layers: Option<&[String]>) -> Result<Sheet, TraceError> {
    let text = super::text(bytes)?;
    let options = ParsingOptions {
        allow_dtd: true,
        nodes_limit: MOST_NODES,
        ..ParsingOptions::default()
    };
    check_nesting(text)?;
    let document = Document::parse_with_options(text, options).map_err(|e| {
        TraceError::new(
            format!("is no well-formed SVG: {e}"),
            "export it again as plain SVG",
        )
        .at_line(e.pos().row as usize)
    })?;
    let root = document.root_element();
    if root.tag_name().name() != "svg" {
        return Err(TraceError::new(
            format!(
                "is XML, but no SVG: it begins with <{}>",
                shown(root.tag_name().name())
            ),
            "export it again as plain SVG",
        ));
    }
    let styles: String = root
        .descendants()
        .filter(|n| n.tag_name().name() == "style")
        .flat_map(|n| n.children().filter_map(|c| c.text()))
        .collect::<Vec<_>>()
        .join("\n");
    let style = StyleSheet::parse(&styles);
    if style.rules.len() > MOST_RULES {
        return Err(too_many("style rules", MOST_RULES));
    }
    let mut ids = BTreeMap::new();
    for n in root.descendants() {
        if let Some(id) = n.attribute("id") {
            ids.entry(id).or_insert(n);
        }
    }
    let (unit_mm, map) = page(root);
    let mut walk = Walk {
        ids,
        style,
        layers,
        names: BTreeSet::new(),
        visits: 0,
        using: Vec::new(),
        sheet: Sheet::new(unit_mm, true),
    };
    let begin = State {
        map,
        style: Style::default(),
        clip: None,
        taken: layers.is_none(),
    };
    let first = walk.style_of(root, &begin);
    walk.children(root, &first, 0)?;
    if let Some(e) = layers.and_then(|asked| no_such_layer(asked, &walk.names)) {
        return Err(e);
    }
    if walk.sheet.shapes.is_empty() {
        return Err(TraceError::new(
            "has no filled shape",
            "fill the shapes that are to be molded; lines must be converted to filled paths",
        ));
    }
    Ok(walk.sheet)
}

/// Refuses absurd nesting before the parser builds a tree of it.
fn check_nesting(text: &str) -> Result<(), TraceError> {
    let (mut depth, mut deepest) = (0usize, 0usize);
    for piece in text.split('<').skip(1) {
        let closes = piece.starts_with('/');
        let stands_alone = piece
            .split_once('>')
            .is_some_and(|(tag, _)| tag.ends_with('/'));
        if piece.starts_with(['!', '?']) || stands_alone {
            continue;
        }
        depth = if closes {
            depth.saturating_sub(1)
        } else {
            depth + 1
        };
        deepest = deepest.max(depth);
    }
    if deepest > 10 * DEEPEST {
        return Err(too_deep());
    }
    Ok(())
}

fn too_deep() -> TraceError {
    TraceError::new(
        format!("has groups more than {DEEPEST} deep in each other"),
        "ungroup the shapes",
    )
}

fn shown(name: &str) -> String {
    name.chars().take(30).collect()
}

/// Millimetres of one unit where the page says, and the map to y upward.
fn page(root: Node<'_, '_>) -> (Option<f64>, Affine) {
    let length = |name: &str| {
        let l = svgtypes::Length::from_str(root.attribute(name)?).ok()?;
        // CSS Values 4, section 6.2: absolute lengths.
        let mm = match l.unit {
            LengthUnit::Mm => 1.0,
            LengthUnit::Cm => 10.0,
            LengthUnit::In => 25.4,
            LengthUnit::Pt => 25.4 / 72.0,
            LengthUnit::Pc => 25.4 / 6.0,
            _ => return None,
        };
        Some(l.number * mm).filter(|v| *v > 0.0)
    };
    let (w, h) = (length("width"), length("height"));
    let up = Affine::scaling(1.0, -1.0);
    let view = root
        .attribute("viewBox")
        .and_then(|v| ViewBox::from_str(v).ok());
    let Some(view) = view else {
        // Without a view box the unit is the CSS pixel, 1/96 in.
        return (w.or(h).map(|_| 25.4 / 96.0), up);
    };
    let x = w.map(|w| w / view.w);
    let y = h.map(|h| h / view.h);
    let unit = match (x, y) {
        (Some(x), Some(y)) => Some(x.min(y)),
        (x, y) => x.or(y),
    };
    (unit, up)
}

/// What a group hands on to its members.
#[derive(Clone, Copy)]
struct State {
    map: Affine,
    style: Style,
    /// Everything must lie in this box, or a clip would cut it.
    clip: Option<Bounds>,
    /// Inside a layer that is wanted.
    taken: bool,
}

struct Walk<'a, 'i> {
    ids: BTreeMap<&'a str, Node<'a, 'i>>,
    style: StyleSheet<'a>,
    layers: Option<&'a [String]>,
    names: BTreeSet<String>,
    visits: usize,
    using: Vec<Node<'a, 'i>>,
    sheet: Sheet,
}

fn line_of(node: Node<'_, '_>) -> usize {
    node.document().text_pos_at(node.range().start).row as usize
}

impl<'a, 'i> Walk<'a, 'i> {
    fn style_of(&self, node: Node<'a, 'i>, above: &State) -> State {
        State {
            style: above.style.of(node, &self.style),
            ..*above
        }
    }

    fn children(
        &mut self,
        node: Node<'a, 'i>,
        state: &State,
        depth: usize,
    ) -> Result<(), TraceError> {
        for child in node.children().filter(Node::is_element) {
            self.element(child, state, depth + 1)?;
        }
        Ok(())
    }

    fn element(
        &mut self,
        node: Node<'a, 'i>,
        above: &State,
        depth: usize,
    ) -> Result<(), TraceError> {
        self.visits += 1;
        if self.visits > MOST_VISITS {
            return Err(too_many(
                "elements, counting each use of a repeated one",
                MOST_VISITS,
            ));
        }
        if depth > DEEPEST {
            return Err(too_deep().at_line(line_of(node)));
        }
        let ours = node
            .tag_name()
            .namespace()
            .is_none_or(|n| n == "http://www.w3.org/2000/svg");
        let name = node.tag_name().name();
        if !ours || HIDDEN.contains(&name) {
            return Ok(());
        }
        let mut state = self.style_of(node, above);
        if state.style.gone {
            return Ok(());
        }
        self.layer(node, &mut state);
        state.map = above.map.after(&transform(node)?);
        self.clip(node, &mut state)?;
        match name {
            "g" | "a" | "switch" => self.children(node, &state, depth),
            "svg" => {
                state.map = state.map.after(&viewport(node, None));
                self.children(node, &state, depth)
            }
            "use" => self.repeat(node, state, depth),
            "text" | "tspan" | "textPath" => self.text(node, &state),
            "image" | "foreignObject" if state.taken && state.style.visible => {
                Err(TraceError::new(
                    format!("holds a picture of pixels or a page (<{name}>)"),
                    "trace the picture to filled paths in the drawing program, and delete it",
                )
                .at_line(line_of(node)))
            }
            _ => match shape::chains(node)? {
                Some(chains) => self.shape(node, &state, chains),
                None => Ok(()),
            },
        }
    }

    fn layer(&mut self, node: Node<'a, 'i>, state: &mut State) {
        if node.tag_name().name() != "g" {
            return;
        }
        let named = node
            .attributes()
            .filter(|a| matches!(a.name(), "id" | "label" | "data-name"))
            .map(|a| a.value());
        for name in named {
            state.taken |= self.layers.is_some_and(|l| l.iter().any(|n| n == name));
            if self.names.len() < 1000 {
                self.names.insert(name.to_owned());
            }
        }
    }

    /// A clip or mask cuts shapes off. A rectangle around all of them changes nothing.
    fn clip(&self, node: Node<'a, 'i>, state: &mut State) -> Result<(), TraceError> {
        let given = |name: &str| {
            let direct = node.attribute(name).map(str::to_owned);
            let styled = node.attribute("style").and_then(|s| {
                simplecss::DeclarationTokenizer::from(s)
                    .find(|d| d.name == name)
                    .map(|d| d.value.to_owned())
            });
            direct.or(styled).filter(|v| v.trim() != "none")
        };
        let refuse = |what: &str| {
            Err(TraceError::new(
                format!("uses a {what}, which is not followed"),
                format!("apply the {what} to the shapes in the drawing program, or release it"),
            )
            .at_line(line_of(node)))
        };
        if given("mask").is_some() && state.taken {
            return refuse("mask");
        }
        let Some(link) = given("clip-path").filter(|_| state.taken) else {
            return Ok(());
        };
        let id = link.trim().trim_start_matches("url(").trim_end_matches(')');
        let id = id.trim_matches(['"', '\'', ' ']).trim_start_matches('#');
        let Some(clip) = self.ids.get(id) else {
            return Ok(()); // A link that leads nowhere clips nothing.
        };
        let mut inside = clip.children().filter(Node::is_element);
        let (first, more) = (inside.next(), inside.next());
        let plain = first.filter(|r| {
            r.tag_name().name() == "rect"
                && more.is_none()
                && clip.attribute("clipPathUnits") != Some("objectBoundingBox")
        });
        let Some(rect) = plain else {
            return refuse("clip");
        };
        let map = state.map.after(&transform(rect)?);
        let chains = shape::chains(rect)?.unwrap_or_default();
        let corners = chains
            .iter()
            .flat_map(|c| &c.strokes)
            .flat_map(|s| [s.ends().0, s.ends().1]);
        let here = Bounds::of_points(corners.map(|p| map.apply(p)));
        state.clip = Some(match state.clip {
            Some(c) => Bounds {
                min: c.min.sup(&here.min),
                max: c.max.inf(&here.max),
            },
            None => here,
        });
        Ok(())
    }

    fn repeat(
        &mut self,
        node: Node<'a, 'i>,
        mut state: State,
        depth: usize,
    ) -> Result<(), TraceError> {
        let link = node
            .attribute("href")
            .or_else(|| node.attribute((XLINK, "href")));
        let Some(target) = link
            .and_then(|l| l.strip_prefix('#'))
            .and_then(|id| self.ids.get(id).copied())
        else {
            return Err(TraceError::new(
                "repeats (<use>) something that is not in the file",
                "unlink clones and symbols in the drawing program",
            )
            .at_line(line_of(node)));
        };
        if self.using.contains(&target) || node.ancestors().any(|a| a == target) {
            return Err(TraceError::new(
                "repeats (<use>) something inside itself",
                "unlink clones and symbols in the drawing program",
            )
            .at_line(line_of(node)));
        }
        state.map = state
            .map
            .after(&Affine::translation(number(node, "x"), number(node, "y")));
        self.using.push(target);
        let done = if target.tag_name().name() == "symbol" {
            let inner = self.style_of(target, &state);
            let inner = State {
                map: state.map.after(&viewport(target, Some(node))),
                ..inner
            };
            self.children(target, &inner, depth + 1)
        } else {
            self.element(target, &state, depth + 1)
        };
        self.using.pop();
        done
    }

    fn text(&self, node: Node<'a, 'i>, state: &State) -> Result<(), TraceError> {
        let empty = node
            .descendants()
            .filter_map(|n| n.text())
            .all(|t| t.trim().is_empty());
        let unseen = !state.style.is_filled() && !state.style.is_stroked();
        if empty || unseen || !state.taken {
            return Ok(());
        }
        Err(TraceError::new(
            "holds text, whose font is not in the file",
            "convert text to paths in the drawing program, or use a feature of kind \"text\"",
        )
        .at_line(line_of(node)))
    }

    fn shape(
        &mut self,
        node: Node<'a, 'i>,
        state: &State,
        chains: Vec<Chain>,
    ) -> Result<(), TraceError> {
        if !state.taken {
            return Ok(());
        }
        let style = &state.style;
        // Two points enclose nothing: such a shape shows by its line alone.
        let flat = chains.iter().all(|c| {
            c.strokes.len() < 2
                && matches!(
                    c.strokes.first(),
                    None | Some(crate::sketch::strokes::Stroke::Line(..))
                )
        });
        if !style.is_filled() || flat {
            if style.is_stroked() && chains.iter().any(|c| !c.strokes.is_empty()) {
                return Err(TraceError::new(
                    format!("draws a line without a fill (<{}>)", node.tag_name().name()),
                    "convert strokes to filled paths in the drawing program (\"stroke to path\"), or fill the shape",
                )
                .at_line(line_of(node)));
            }
            return Ok(());
        }
        if style.is_stroked() {
            self.sheet.note(
                "lines around filled shapes are not followed: the fill's edge is the outline"
                    .into(),
            );
        }
        if !state.map.is_finite() {
            return Err(TraceError::new(
                "has a transform beyond all numbers",
                "reset the transform of this shape",
            )
            .at_line(line_of(node)));
        }
        let chains: Vec<Chain> = chains
            .into_iter()
            .map(|c| Chain {
                strokes: c.strokes.iter().flat_map(|s| state.map.stroke(s)).collect(),
            })
            .collect();
        let erases = style.fill == Paint::White;
        if let Some(clip) = state.clip
            && !erases
        {
            let b = chains
                .iter()
                .flat_map(|c| &c.strokes)
                .fold(Bounds::default(), |b, s| b.union(&s.bounds()));
            let slack = 1e-4 * (clip.width() + clip.height()).abs();
            let room = clip.grown(slack);
            let inside = b.min.x >= room.min.x
                && b.min.y >= room.min.y
                && b.max.x <= room.max.x
                && b.max.y <= room.max.y;
            if !inside && !b.is_empty() {
                return Err(TraceError::new(
                    "has a shape that a clip cuts off",
                    "apply the clip to the shapes in the drawing program, or release it",
                )
                .at_line(line_of(node)));
            }
        }
        let rule = if style.evenodd {
            FillRule::EvenOdd
        } else {
            FillRule::NonZero
        };
        self.sheet
            .add(DrawnShape {
                chains,
                rule,
                erases,
            })
            .map_err(|e| e.at_line(line_of(node)))
    }
}

/// Elements that show nothing by themselves.
const HIDDEN: [&str; 18] = [
    "defs",
    "symbol",
    "clipPath",
    "mask",
    "marker",
    "pattern",
    "linearGradient",
    "radialGradient",
    "filter",
    "title",
    "desc",
    "metadata",
    "script",
    "style",
    "animate",
    "animateTransform",
    "set",
    "view",
];

fn number(node: Node<'_, '_>, name: &str) -> f64 {
    shape::length(node, name).unwrap_or(0.0)
}

fn transform(node: Node<'_, '_>) -> Result<Affine, TraceError> {
    let mut map = Affine::identity();
    let Some(text) = node.attribute("transform") else {
        return Ok(map);
    };
    for (i, token) in TransformListParser::from(text).enumerate() {
        use svgtypes::TransformListToken as T;
        let wrong = || {
            TraceError::new(
                "has a transform that cannot be read",
                "reset the transform of this shape",
            )
            .at_line(line_of(node))
        };
        let step = match token.map_err(|_| wrong())? {
            T::Matrix { a, b, c, d, e, f } => Affine::new(a, b, c, d, e, f),
            T::Translate { tx, ty } => Affine::translation(tx, ty),
            T::Scale { sx, sy } => Affine::scaling(sx, sy),
            T::Rotate { angle } => Affine::rotation_deg(angle),
            T::SkewX { angle } => Affine::new(1.0, 0.0, angle.to_radians().tan(), 1.0, 0.0, 0.0),
            T::SkewY { angle } => Affine::new(1.0, angle.to_radians().tan(), 0.0, 1.0, 0.0, 0.0),
        };
        if i > MOST_STROKES {
            return Err(wrong());
        }
        map = map.after(&step);
    }
    Ok(map)
}

/// The map from a nested `svg` or a symbol to what is around it (aspect kept, in the middle).
fn viewport(node: Node<'_, '_>, used_by: Option<Node<'_, '_>>) -> Affine {
    let own = |name: &str| {
        used_by
            .and_then(|u| shape::length(u, name))
            .or_else(|| shape::length(node, name))
    };
    let shift = match used_by {
        Some(_) => Affine::identity(),
        None => Affine::translation(number(node, "x"), number(node, "y")),
    };
    let view = node
        .attribute("viewBox")
        .and_then(|v| ViewBox::from_str(v).ok());
    let (Some(view), Some(w), Some(h)) = (view, own("width"), own("height")) else {
        return shift;
    };
    let s = (w / view.w).min(h / view.h);
    let middle = Affine::translation(0.5 * (w - s * view.w), 0.5 * (h - s * view.h));
    shift
        .after(&middle)
        .after(&Affine::scaling(s, s))
        .after(&Affine::translation(-view.x, -view.y))
}
