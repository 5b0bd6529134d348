//! SVG: filled shapes with their transforms, groups, style and fill rules.
//!
//! Input: the file's bytes. Output: a [`Sheet`]. Paths, the basic shapes, `use`, nested
//! `svg`, groups and style sheets are read; lines without a fill become bars of their width; text and pixel pictures are
//! refused with what to do about them. Source of the rules: SVG 1.1 and SVG 2.

mod frame;
mod path;
mod shape;
mod style;
mod walk;

use super::error::TraceError;
use super::sheet::Sheet;
use super::too_many;
use roxmltree::{Document, Node, ParsingOptions};

/// Most elements of a file.
const MOST_NODES: u32 = 200_000;
/// Most attributes of one element: the parser compares each with every other.
const MOST_ATTRIBUTES: usize = 1000;
/// Deepest nesting of groups.
const DEEPEST: usize = 100;

/// Reads a drawing.
pub(super) fn read(bytes: &[u8], layers: Option<&[String]>) -> Result<Sheet, TraceError> {
    let text = super::text(bytes)?;
    let options = ParsingOptions {
        allow_dtd: true,
        nodes_limit: MOST_NODES,
        ..ParsingOptions::default()
    };
    check_nesting(text)?;
    check_attributes(text)?;
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
    walk::sheet(root, layers)
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

/// Refuses an element of very many attributes before the parser compares each with all others.
fn check_attributes(text: &str) -> Result<(), TraceError> {
    for (k, piece) in text.split('<').enumerate().skip(1) {
        if piece.starts_with(['!', '?', '/']) || piece.len() < 4 * MOST_ATTRIBUTES {
            continue;
        }
        // An equals sign outside of quotes is an attribute's.
        let (mut quote, mut count) = (None, 0);
        for c in piece.chars() {
            match (quote, c) {
                (None, '>') => break,
                (None, '"' | '\'') => quote = Some(c),
                (None, '=') => count += 1,
                (Some(q), c) if c == q => quote = None,
                _ => {}
            }
        }
        if count > MOST_ATTRIBUTES {
            let before: usize = text
                .split('<')
                .take(k)
                .map(|p| p.matches('\n').count())
                .sum();
            return Err(too_many("attributes on one element", MOST_ATTRIBUTES).at_line(1 + before));
        }
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

/// Line of the file in which an element begins.
fn line_of(node: Node<'_, '_>) -> usize {
    node.document().text_pos_at(node.range().start).row as usize
}
