//! `tables`: prints a built-in table with its sources.

use super::{Ending, complain, print_json, say, tables};
use crate::data;
use std::io::Write;

pub(super) fn run(id: Option<&str>, json: bool, out: &mut dyn Write) -> Ending {
    let Some(id) = id else {
        if json {
            let ids: Vec<&str> = data::tables().iter().map(|t| &*t.id).collect();
            print_json(&ids, out);
            return Ending::Fine;
        }
        return say(out, &tables::list(data::tables()));
    };
    let Some(table) = data::table(id) else {
        let near = data::tables()
            .iter()
            .map(|t| &*t.id)
            .max_by(|a, b| strsim::jaro_winkler(a, id).total_cmp(&strsim::jaro_winkler(b, id)))
            .unwrap_or("pipe-threads");
        return complain(&format!(
            "no table called \"{id}\"; did you mean {near}? `platewright tables` lists them"
        ));
    };
    if json {
        print_json(table, out);
        return Ending::Fine;
    }
    say(out, &tables::render(table, screen_width()))
}

/// Characters across the screen: the COLUMNS variable, else 100.
fn screen_width() -> usize {
    std::env::var("COLUMNS")
        .ok()
        .and_then(|c| c.parse().ok())
        .map_or(100, |c: usize| c.clamp(40, 400))
}
