//! DXF (text form, any version): the curves in the plane, block references resolved.
//!
//! Input: the file's bytes. Output: a [`Sheet`] with one shape of loose chains. Reads LINE,
//! ARC, CIRCLE, ELLIPSE, LWPOLYLINE, POLYLINE, SPLINE and INSERT of model space, and the
//! boundaries of a HATCH where there is nothing else; everything else is left out and noted. Source: the DXF reference (group codes of each entity).

mod entity;
mod fit_points;
mod hatch;
mod spline;
mod tags;

use super::affine::Affine;
use super::error::TraceError;
use super::sheet::{Chain, DrawnShape, Sheet};
use super::{MOST_STROKES, no_such_layer, too_many};
use entity::Entity;
use platewright_sketch::FillRule;
use std::collections::{BTreeMap, BTreeSet};
use tags::Tags;

/// Most entities drawn, counting each reference to a block.
const MOST_VISITS: usize = 50_000;
/// Most lines, arcs and curves while they are read: hatches count until they are dropped.
const MOST_DRAWN: usize = 4 * MOST_STROKES;
/// Deepest nesting of block references.
const DEEPEST: usize = 32;

/// What the sections of the file hold.
#[derive(Default)]
struct File<'a> {
    unit: Option<i64>,
    layers: BTreeSet<String>,
    /// Layers that are off or frozen, and those of them that are frozen; in capital letters.
    hidden: BTreeSet<String>,
    frozen: BTreeSet<String>,
    blocks: BTreeMap<&'a str, Block<'a>>,
    entities: Vec<Entity<'a>>,
}

#[derive(Default)]
struct Block<'a> {
    base: (f64, f64),
    entities: Vec<Entity<'a>>,
}

/// Reads a drawing.
pub(super) fn read(bytes: &[u8], layers: Option<&[String]>) -> Result<Sheet, TraceError> {
    // The binary form's own mark ends in a zero; text has none.
    if bytes.contains(&0) {
        return Err(TraceError::new(
            "is a binary DXF (or no DXF at all)",
            "save it as a text (ASCII) DXF",
        ));
    }
    if bytes.is_empty() {
        return Err(super::text(bytes)
            .err()
            .unwrap_or_else(|| too_many("bytes", 0)));
    }
    // Older versions write names in other code pages; the geometry is plain ASCII.
    let text = String::from_utf8_lossy(bytes);
    let file = sections(&text)?;
    let mut walk = Walk {
        file: &file,
        layers,
        visits: 0,
        inside: Vec::new(),
        left_out: BTreeMap::new(),
        hidden: false,
        paper: false,
        hatched: Vec::new(),
        strokes: 0,
        chains: Vec::new(),
        names: file.layers.clone(),
    };
    walk.entities(&file.entities, &Affine::identity(), None)?;
    if let Some(e) = layers.and_then(|asked| no_such_layer(asked, &walk.names)) {
        return Err(e);
    }
    let mut sheet = Sheet::new(file.millimetres(), false);
    if walk.paper {
        sheet.note(
            "what lies in paper space (the sheet's frame and title block) is left out".into(),
        );
    }
    if walk.chains.is_empty() && !walk.hatched.is_empty() {
        walk.left_out.remove("HATCH");
        sheet.note("the boundaries of its hatches are taken: it has no other lines".into());
        walk.chains = std::mem::take(&mut walk.hatched);
    }
    if !walk.left_out.is_empty() {
        let kinds: Vec<String> = walk
            .left_out
            .iter()
            .take(12)
            .map(|(k, n)| format!("{n} × {k}"))
            .collect();
        sheet.note(format!(
            "left out, because they are no outlines: {}",
            kinds.join(", ")
        ));
    }
    if walk.hidden {
        sheet.note("what lies on layers that are off or frozen is left out; name a layer in `layers` to take it".into());
    }
    sheet.add(DrawnShape {
        chains: walk.chains,
        rule: FillRule::EvenOdd,
        erases: false,
        pen: None,
    })?;
    if sheet.shapes.is_empty() {
        return Err(TraceError::new(
            match layers {
                Some(_) => "has no lines, arcs or curves on the layers asked for",
                None => "has no lines, arcs or curves",
            },
            "draw the outline with lines, arcs, circles, polylines, ellipses or splines",
        ));
    }
    Ok(sheet)
}

impl File<'_> {
    /// $INSUNITS, else nothing: $MEASUREMENT tells which hatch patterns to use, not the unit.
    fn millimetres(&self) -> Option<f64> {
        Some(match self.unit? {
            1 => 25.4,
            2 => 304.8,
            4 => 1.0,
            5 => 10.0,
            6 => 1000.0,
            8 => 25.4e-6,
            9 => 0.0254,
            10 => 914.4,
            13 => 1e-3,
            14 => 100.0,
            _ => return None,
        })
    }
}

fn sections(text: &str) -> Result<File<'_>, TraceError> {
    let mut file = File::default();
    let mut tags = Tags::new(text);
    let mut section = "";
    let mut block: Option<(&str, Block<'_>)> = None;
    let mut variable = "";
    let mut found = false;
    while let Some(tag) = tags.next()? {
        match (section, tag.code, tag.value) {
            (_, 0, "SECTION") => {
                let name = tags.next()?;
                section = name.filter(|t| t.code == 2).map_or("", |t| t.value);
                found |= !section.is_empty();
            }
            (_, 0, "ENDSEC") => section = "",
            (_, 0, "EOF") => break,
            ("HEADER", 9, name) => variable = name,
            ("HEADER", 70, value) if variable == "$INSUNITS" => file.unit = value.parse().ok(),
            ("TABLES", 0, "LAYER") => {
                let layer = tags.entity("LAYER", tag.line)?;
                if let Some(name) = layer.text(2) {
                    if file.layers.len() < 10_000 {
                        file.layers.insert(name.to_owned());
                    }
                    let frozen = layer.whole(70).unwrap_or(0) & 1 == 1;
                    if frozen {
                        file.frozen.insert(name.to_uppercase());
                    }
                    if frozen || layer.whole(62).unwrap_or(7) < 0 {
                        file.hidden.insert(name.to_uppercase());
                    }
                }
            }
            ("BLOCKS", 0, "BLOCK") => {
                let head = tags.entity("BLOCK", tag.line)?;
                let base = (
                    head.number(10).unwrap_or(0.0),
                    head.number(20).unwrap_or(0.0),
                );
                block = Some((
                    head.text(2).unwrap_or(""),
                    Block {
                        base,
                        entities: Vec::new(),
                    },
                ));
            }
            ("BLOCKS", 0, "ENDBLK") => {
                if let Some((name, b)) = block.take() {
                    file.blocks.insert(name, b);
                }
            }
            ("BLOCKS", 0, kind) => {
                let e = tags.entity(kind, tag.line)?;
                if let Some((_, b)) = &mut block {
                    place(&mut b.entities, e);
                }
            }
            ("ENTITIES", 0, kind) => {
                let e = tags.entity(kind, tag.line)?;
                place(&mut file.entities, e);
            }
            _ => {}
        }
    }
    if !found {
        return Err(TraceError::new(
            "is no DXF: it has no sections",
            "export it again as DXF (text form)",
        ));
    }
    Ok(file)
}

/// Vertices go to the polyline before them.
fn place<'a>(list: &mut Vec<Entity<'a>>, e: Entity<'a>) {
    match (e.kind, list.last_mut()) {
        ("VERTEX", Some(p)) if p.kind == "POLYLINE" && !p.ended => p.vertices.push(e),
        ("SEQEND", Some(p)) => p.ended = true,
        ("SEQEND", None) => {}
        _ => list.push(e),
    }
}

struct Walk<'f, 'a> {
    file: &'f File<'a>,
    layers: Option<&'f [String]>,
    visits: usize,
    inside: Vec<&'f str>,
    left_out: BTreeMap<String, usize>,
    hidden: bool,
    /// Something lies on a sheet of paper.
    paper: bool,
    /// Boundaries of hatches.
    hatched: Vec<Chain>,
    strokes: usize,
    chains: Vec<Chain>,
    names: BTreeSet<String>,
}

impl<'f, 'a> Walk<'f, 'a> {
    fn entities(
        &mut self,
        list: &'f [Entity<'a>],
        map: &Affine,
        layer_of_insert: Option<&'f str>,
    ) -> Result<(), TraceError> {
        for e in list {
            self.visits += 1;
            if self.visits > MOST_VISITS {
                return Err(too_many(
                    "entities, counting each reference to a block",
                    MOST_VISITS,
                ));
            }
            if e.whole(67) == Some(1) {
                self.paper = true;
                continue;
            }
            let own = e.text(8).unwrap_or("0");
            // Layer 0 inside a block is the layer of the reference.
            let layer = if own == "0" {
                layer_of_insert.unwrap_or(own)
            } else {
                own
            };
            if self.names.len() < 10_000 && !self.names.contains(layer) {
                self.names.insert(layer.to_owned());
            }
            let named = layer.to_uppercase();
            if e.kind == "INSERT" {
                // What is placed on a frozen layer goes with it, whatever layer it was drawn on.
                let gone = self.file.frozen.contains(&named) || e.whole(60) == Some(1);
                if self.layers.is_none() && gone {
                    self.hidden = true;
                } else {
                    self.insert(e, map, layer)?;
                }
                continue;
            }
            let wanted = match self.layers {
                Some(asked) => asked.iter().any(|n| n == layer),
                None => !self.file.hidden.contains(&named) && e.whole(60) != Some(1),
            };
            if !wanted {
                self.hidden |= self.layers.is_none();
                continue;
            }
            if e.kind == "HATCH" {
                let moved = map.after(&e.upright()?);
                for path in hatch::paths(e)? {
                    let strokes: Vec<_> = path.iter().flat_map(|s| moved.stroke(s)).collect();
                    self.drawn(strokes.len())?;
                    self.hatched.push(Chain { strokes });
                }
            }
            match e.chain()? {
                Some(chain) => {
                    let moved = map.after(&e.upright()?);
                    let strokes: Vec<_> = chain.iter().flat_map(|s| moved.stroke(s)).collect();
                    self.drawn(strokes.len())?;
                    self.chains.push(Chain { strokes });
                }
                None => {
                    if self.left_out.len() < 100 {
                        *self
                            .left_out
                            .entry(e.kind.chars().take(30).collect())
                            .or_default() += 1;
                    }
                }
            }
        }
        Ok(())
    }

    /// Counts what is drawn while it is read.
    fn drawn(&mut self, strokes: usize) -> Result<(), TraceError> {
        self.strokes += strokes.max(1);
        if self.strokes > MOST_DRAWN {
            return Err(too_many("lines, arcs and curves", MOST_STROKES));
        }
        Ok(())
    }

    fn insert(
        &mut self,
        e: &'f Entity<'a>,
        map: &Affine,
        layer: &'f str,
    ) -> Result<(), TraceError> {
        let name = e.text(2).unwrap_or("");
        let short: String = name.chars().take(40).collect();
        let Some((name, block)) = self.file.blocks.get_key_value(name) else {
            return Err(TraceError::new(
                format!("places a block \"{short}\" that is not in the file"),
                "explode the blocks in the drawing program, or purge the reference",
            )
            .at_line(e.line));
        };
        if self.inside.contains(name) {
            return Err(TraceError::new(
                format!("has a block \"{short}\" that contains itself"),
                "explode the blocks in the drawing program",
            )
            .at_line(e.line));
        }
        if self.inside.len() >= DEEPEST {
            return Err(TraceError::new(
                format!("has blocks more than {DEEPEST} deep in each other"),
                "explode the blocks in the drawing program",
            )
            .at_line(e.line));
        }
        let number = |code: i32, otherwise: f64| e.number(code).unwrap_or(otherwise);
        let columns = e.whole(70).unwrap_or(1).clamp(1, i64::from(u16::MAX));
        let rows = e.whole(71).unwrap_or(1).clamp(1, i64::from(u16::MAX));
        let turned = Affine::rotation_deg(number(50, 0.0));
        let own = Affine::scaling(number(41, 1.0), number(42, 1.0))
            .after(&Affine::translation(-block.base.0, -block.base.1));
        self.inside.push(name);
        for i in 0..columns {
            for j in 0..rows {
                // A block without entities must not make an endless loop of nothing.
                self.visits += 1;
                if self.visits > MOST_VISITS {
                    return Err(too_many(
                        "entities, counting each reference to a block",
                        MOST_VISITS,
                    ));
                }
                let cell =
                    Affine::translation(i as f64 * number(44, 0.0), j as f64 * number(45, 0.0));
                let place = e
                    .upright()?
                    .after(&Affine::translation(number(10, 0.0), number(20, 0.0)))
                    .after(&turned)
                    .after(&cell)
                    .after(&own);
                self.entities(&block.entities, &map.after(&place), Some(layer))?;
            }
        }
        self.inside.pop();
        Ok(())
    }
}
