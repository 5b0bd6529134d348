//! Runner and gate of a layered mold: slots cut right through the first sheet.
//!
//! Input: the sheet and the service that cuts it. Output: their sizes.

use super::build::Layers;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::design::feed::Channel;
use crate::design::feed_sizes::FeedSizes;
use crate::design::planner::{PRACTICE, Planner, up_to};
use crate::spec::job::FeedSection;

/// Decides widths and the gate's land; both are as deep as the first sheet.
pub(in crate::design) fn cut_sizes(p: &mut Planner, layers: &Layers) -> FeedSizes {
    let grid = p.grid();
    let feed = p.job.feed.clone();
    let sheet = layers.sheets.first().copied().unwrap_or(3.0);
    let (slot, web) = (layers.slot(sheet), layers.web(sheet));
    let said = |rule: Rule| {
        rule.with("sheet", shown::size(sheet))
            .with("service", layers.cut.word())
            .with("narrowest slot", shown::size(slot))
    };
    let width = p.length(FeedSection::runner_diameter, feed.runner_diameter.as_ref(), || {
        (
            up_to((sheet + 2.0).max(slot), grid(0.5)),
            said(Rule::new(
                format!("width of the cut channel: sheet thickness + {}, so that it freezes after the gate; not narrower than the service cuts", shown::size(2.0)),
                PRACTICE,
            ))
            .changes_with("feed.runner_diameter, mold.layers.sheets, mold.layers.cut"),
        )
    });
    let gate_width = p.length(FeedSection::gate_width, feed.gate_width.as_ref(), || {
        (
            up_to(slot.max(0.6 * sheet), grid(0.1)).min(width),
            said(Rule::new(
                "as narrow as the service cuts in this sheet, 0.6 × its thickness at least: the gate is as deep as the sheet",
                PRACTICE,
            ))
            .changes_with("feed.gate_width, mold.layers.sheets, mold.layers.cut"),
        )
    });
    let gate_length = p.length(FeedSection::gate_length, feed.gate_length.as_ref(), || {
        (
            up_to(web.max(1.0), grid(0.1)),
            said(Rule::new(
                "the metal beside the gate is a web: not thinner than the service leaves standing",
                PRACTICE,
            ))
            .with("thinnest web", shown::size(web))
            .changes_with("feed.gate_length, mold.layers.sheets, mold.layers.cut"),
        )
    });
    p.decisions.record(
        "feed.gate_depth",
        shown::size(sheet),
        Rule::new("cut right through the first sheet", "geometry")
            .changes_with("mold.layers.sheets"),
    );
    FeedSizes {
        channel: Channel::Cut {
            width,
            depth: sheet,
        },
        gate_width,
        gate_depth: sheet,
        gate_length,
    }
}
