//! The process card as one printable HTML page, and as a document for the PDF.
//!
//! Input: [`ProcessCard`]. Output: HTML with its style inside, for A4; a [`Document`].
//! Decides nothing about the content.

use crate::process::card::{Cause, ProcessCard};
use crate::write::document::{Block, Cell, Document, Run, Set, Table, Tone, column};

/// The card in blocks.
pub fn document(card: &ProcessCard) -> Document {
    let heading = |text: &str| Block::Heading(3, text.to_owned(), String::new());
    // One sheet for the wall: settings in one table, what is not likely in one run.
    let mut settings = Table::new(&[
        column("", Set::Words, 18.0),
        column("what", Set::Words, 30.0),
        column("set", Set::Words, 40.0),
        column("remark", Set::Wide, 92.0),
    ]);
    for s in &card.sections {
        for (i, l) in s.lines.iter().enumerate() {
            let title = if i == 0 { s.title.as_str() } else { "" };
            settings.row(vec![
                Cell::Lines(vec![Run::new(title, Tone::Bold)]),
                Cell::text(&l.label),
                Cell::Lines(vec![Run::new(&l.value, Tone::Bold)]),
                Cell::text(&l.note),
            ]);
        }
    }
    let mut troubles = Table::new(&[
        column("when it goes wrong", Set::Words, 34.0),
        column(
            "likeliest first; bold: this design makes it likely",
            Set::Wide,
            146.0,
        ),
    ]);
    for trouble in &card.trouble {
        let likely = trouble.causes.iter().filter_map(|c| {
            let why = c.likely.as_ref()?;
            Some(Run::new(format!("{} ({why})", c.text), Tone::Bold))
        });
        let others = trouble.causes.iter().filter(|c| c.likely.is_none());
        let others: Vec<&str> = others.map(|c| c.text.as_str()).collect();
        let rest = (!others.is_empty()).then(|| Run::plain(others.join("; ")));
        troubles.row(vec![
            Cell::Lines(vec![Run::new(&trouble.symptom, Tone::Bold)]),
            Cell::Lines(likely.chain(rest).collect()),
        ]);
    }
    let cautions = card.cautions.iter().map(|c| (String::new(), c.clone()));
    let blocks = vec![
        Block::Table(settings),
        Block::Table(troubles),
        heading("Cautions"),
        Block::List(cautions.collect()),
    ];
    Document {
        title: card.title.clone(),
        subtitle: format!("Process card · revision {}", card.revision),
        dense: true,
        running: format!("{} · process card · revision {}", card.title, card.revision),
        banner: if card.released {
            String::new()
        } else {
            "NOT RELEASED: a check says stop. Read the report before cutting metal.".into()
        },
        links: Vec::new(),
        blocks,
    }
}

/// The page.
pub fn html(card: &ProcessCard) -> String {
    let mut out = String::from(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n<title>Process card</title>\n<style>\n\
         @page{size:A4;margin:10mm}\n\
         body{font:9.5pt/1.25 sans-serif;max-width:190mm;margin:0 auto;color:#111}\n\
         h1{font-size:15pt;margin:0}h2{font-size:10.5pt;margin:5pt 0 1pt;border-bottom:1px solid #444}\n\
         .top{display:flex;justify-content:space-between;align-items:baseline}\n\
         .cols{columns:2;column-gap:8mm}.block{break-inside:avoid}\n\
         table{border-collapse:collapse;width:100%}td{vertical-align:top;padding:1pt 3pt 1pt 0}\n\
         td.l{width:24%}td.v{white-space:nowrap;font-weight:bold;width:24%}td.n{color:#444;font-size:8pt}\n\
         ul{margin:0;padding-left:4mm}.likely{font-weight:bold}.why{font-weight:normal;color:#444}\n\
         .stop{background:#c00;color:#fff;font-weight:bold;padding:3pt;text-align:center;margin:3pt 0}\n\
         .caution{border:1.5pt solid #c60;padding:2pt 5pt;margin-top:5pt}\n\
         </style></head><body>\n",
    );
    out += &format!(
        "<div class=\"top\"><h1>{}</h1><span>process card, revision {}</span></div>\n",
        escape(&card.title),
        escape(&card.revision)
    );
    if !card.released {
        out += "<div class=\"stop\">NOT RELEASED: a check says stop. Read the report before cutting metal.</div>\n";
    }
    out += "<div class=\"cols\">\n";
    for s in &card.sections {
        out += &format!(
            "<div class=\"block\"><h2>{}</h2><table>\n",
            escape(&s.title)
        );
        for l in &s.lines {
            out += &format!(
                "<tr><td class=\"l\">{}</td><td class=\"v\">{}</td><td class=\"n\">{}</td></tr>\n",
                escape(&l.label),
                escape(&l.value),
                escape(&l.note)
            );
        }
        out += "</table></div>\n";
    }
    out += "</div>\n<h2>When it goes wrong</h2><div class=\"cols\">\n";
    for t in &card.trouble {
        out += &format!(
            "<div class=\"block\"><b>{}</b><ul>{}</ul></div>\n",
            escape(&t.symptom),
            t.causes.iter().map(cause).collect::<String>()
        );
    }
    out += "</div>\n<p class=\"why\">Bold: this design makes it likely.</p>\n<div class=\"caution\"><b>Cautions</b><ul>\n";
    for c in &card.cautions {
        out += &format!("<li>{}</li>\n", escape(c));
    }
    out + "</ul></div>\n</body></html>\n"
}

fn cause(c: &Cause) -> String {
    match &c.likely {
        Some(why) => format!(
            "<li class=\"likely\">{} <span class=\"why\">({})</span></li>",
            escape(&c.text),
            escape(why)
        ),
        None => format!("<li>{}</li>", escape(&c.text)),
    }
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::process::card::{CardLine, CardSection, Trouble};

    #[test]
    fn every_word_of_the_card_is_on_the_page_and_escaped() {
        let card = ProcessCard {
            title: "Coaster <A>".into(),
            revision: "0a1b".into(),
            released: false,
            sections: vec![CardSection {
                title: "Heat".into(),
                lines: vec![CardLine {
                    label: "Barrel".into(),
                    value: "230 °C".into(),
                    note: "204 & 260".into(),
                }],
            }],
            trouble: vec![Trouble {
                symptom: "Short".into(),
                causes: vec![Cause {
                    text: "cold".into(),
                    likely: Some("40 %".into()),
                }],
            }],
            cautions: vec!["Gloves".into()],
        };
        let page = html(&card);
        for word in [
            "Coaster &lt;A&gt;",
            "0a1b",
            "NOT RELEASED",
            "230 °C",
            "204 &amp; 260",
            "cold",
            "40 %",
            "Gloves",
        ] {
            assert!(page.contains(word), "{word}");
        }
        let fine = html(&ProcessCard {
            released: true,
            ..card
        });
        assert!(!fine.contains("NOT RELEASED"));
    }
}
