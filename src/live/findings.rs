//! The findings beside the picture: worst first, each with what was tried, the rest folded.
//!
//! Input: findings, sorted by level. Output: markup; the page's script makes buttons of the
//! lines that were tried.

use super::Stage;
use crate::base::finding::{Finding, Level, released};
use crate::write::markup::escape;

fn count(all: &[Finding], level: Level) -> usize {
    all.iter().filter(|f| f.level == level).count()
}

fn many(n: usize, word: &str) -> String {
    match n {
        1 => format!("1 {word}"),
        n => format!("{n} {word}s"),
    }
}

/// Released, not released, or not known yet.
pub(super) fn verdict(all: &[Finding], stage: Stage) -> String {
    let (stops, warns) = (count(all, Level::Stop), count(all, Level::Warn));
    let (class, word, rest) = if stops > 0 {
        let more = match stage {
            Stage::Done => String::new(),
            _ => ", computing on".to_owned(),
        };
        (
            "halt",
            "NOT RELEASED",
            format!("{}{more}", many(stops, "stop")),
        )
    } else if stage != Stage::Done {
        ("wait", "COMPUTING", "not released yet".to_owned())
    } else {
        debug_assert!(released(all));
        let warned = match warns {
            0 => "no stop, no warning".to_owned(),
            n => many(n, "warning"),
        };
        ("go", "RELEASED", warned)
    };
    format!("<p class=\"verdict {class}\"><b>{word}</b> {rest}</p>\n")
}

/// All findings.
pub(super) fn list(all: &[Finding]) -> String {
    let (notes, grave): (Vec<_>, Vec<_>) = all.iter().partition(|f| f.level == Level::Note);
    let mut out = String::from("<h2>Findings</h2>\n");
    if grave.is_empty() {
        out.push_str("<p class=\"calm\">No stop and no warning.</p>\n");
    }
    let (first, rest) = grave.split_at(grave.len().min(SHOWN));
    first.iter().for_each(|f| out.push_str(&one(f)));
    for (rest, word) in [(rest, "more"), (&notes[..], "note")] {
        if !rest.is_empty() {
            let words = match word {
                "note" => many(rest.len(), word),
                word => format!("{} {word}", rest.len()),
            };
            out.push_str(&format!(
                "<details class=\"rest\" id=\"findings-{word}\"><summary>{words}</summary>\n"
            ));
            rest.iter().for_each(|f| out.push_str(&one(f)));
            out.push_str("</details>\n");
        }
    }
    out
}

/// Grave findings that stand unfolded.
const SHOWN: usize = 6;

fn one(f: &Finding) -> String {
    let word = f.level.word();
    let mut out = format!(
        "<article class=\"finding {word}\" data-code=\"{}\">\n<h3><span class=\"mark\">{word}</span> {}</h3>\n",
        f.code,
        escape(&f.what)
    );
    for remedy in &f.remedies {
        let changes = serde_json::to_string(&remedy.changes).unwrap_or_default();
        out.push_str(&format!(
            "<p class=\"tried\" data-changes=\"{}\">{}</p>",
            escape(&changes),
            escape(&remedy.lines())
        ));
    }
    let told = [("Where", &f.at), ("Why", &f.why), ("Change", &f.change)];
    let told = told.iter().filter(|(_, text)| !text.is_empty());
    let told: String = told
        .map(|(label, text)| format!("<dt>{label}</dt><dd>{}</dd>", escape(text)))
        .collect();
    out.push_str(&format!(
        "<details><summary>Why, and what to change</summary><dl>{told}</dl></details>\n</article>\n"
    ));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::Code;

    #[test]
    fn nothing_is_released_before_all_is_computed() {
        let stop = Finding::new(Level::Stop, Code::PlatesBow, "bolts", "0.1 mm", "", "");
        let note = Finding::new(Level::Note, Code::WeldLine, "x", "two meet", "", "");
        for stage in [Stage::Solids, Stage::Checked] {
            let open = verdict(std::slice::from_ref(&note), stage);
            assert!(!open.contains("class=\"verdict go\"") && open.contains("COMPUTING"));
            assert!(verdict(std::slice::from_ref(&stop), stage).contains("NOT RELEASED"));
        }
        assert!(verdict(&[note], Stage::Done).contains("verdict go"));
        assert!(verdict(&[stop], Stage::Done).contains("verdict halt"));
    }
}
