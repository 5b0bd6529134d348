//! The elements of an SVG one by one: groups, repeats, layers, clips, shapes.
//!
//! Input: the document's root. Output: filled shapes on the [`Sheet`], or why not.

use super::frame::{number, page, transform, viewport};
use super::style::{MOST_RULES, Paint, Style};
use super::{DEEPEST, line_of, shape, too_deep};
use crate::trace::affine::Affine;
use crate::trace::error::TraceError;
use crate::trace::sheet::{Chain, DrawnShape, Sheet};
use crate::trace::{no_such_layer, too_many};
use platewright_sketch::Bounds;
use platewright_sketch::FillRule;
use roxmltree::Node;
use simplecss::StyleSheet;
use std::collections::{BTreeMap, BTreeSet};

/// Most elements drawn, counting each use of a repeated one.
const MOST_VISITS: usize = 50_000;
/// Most elements times style rules.
const MOST_MATCHES: usize = 10_000_000;
/// The namespace of links.
const XLINK: &str = "http://www.w3.org/1999/xlink";
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

/// All filled shapes below the root.
pub(super) fn sheet(root: Node<'_, '_>, layers: Option<&[String]>) -> Result<Sheet, TraceError> {
    let styles: String = root
        .descendants()
        .filter(|n| n.tag_name().name() == "style")
        .flat_map(|n| n.children().filter_map(|c| c.text()))
        .collect::<Vec<_>>()
        .join("\n");
    // Counted before they are read, which takes the square of their number.
    if styles.matches(['{', ',']).count() > 4 * MOST_RULES {
        return Err(too_many("style rules", MOST_RULES));
    }
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
        // Every rule is held against every element.
        let most = MOST_VISITS.min(MOST_MATCHES / self.style.rules.len().max(1));
        if self.visits > most {
            return Err(too_many(
                "elements, counting each use of a repeated one",
                most,
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
                    None | Some(platewright_sketch::Stroke::Line(..))
                )
        });
        let line = !style.is_filled() || flat;
        if line && (!style.is_stroked() || chains.iter().all(|c| c.strokes.is_empty())) {
            return Ok(());
        }
        if line {
            self.sheet
                .note("lines are bars as wide as they are drawn, with round ends".into());
            if style.dashed {
                self.sheet.note("dashed lines are drawn through".into());
            }
        } else if style.is_stroked() {
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
        let erases = !line && style.fill == Paint::White;
        let pen = line.then(|| style.pen() * state.map.linear.determinant().abs().sqrt());
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
                pen,
            })
            .map_err(|e| e.at_line(line_of(node)))
    }
}
