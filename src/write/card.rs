//! The process card as a document, printed as a web page and on one sheet of A4.
//!
//! Input: [`ProcessCard`]. Output: a [`Document`]. Decides nothing about the content.

use crate::process::card::ProcessCard;
use crate::write::budget;
use crate::write::document::{Block, Cell, Document, Run, Set, Table, Tone, column};

/// The card in blocks.
pub fn document(card: &ProcessCard) -> Document {
    let heading = |text: &str| Block::Heading(3, text.to_owned(), String::new());
    // One sheet for the wall: settings in one table, what is not likely in one run.
    let mut settings = Table::new(&[
        column("", Set::Words, 13.0),
        column("what", Set::Words, 26.0),
        column("set", Set::Words, 36.0),
        column("remark", Set::Wide, 105.0),
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
        column("when it goes wrong", Set::Words, 47.0),
        column(
            "likeliest first; bold: this design makes it likely",
            Set::Wide,
            133.0,
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
    let mut blocks = vec![Block::Table(settings)];
    if !card.budget.is_empty() {
        let bar = budget::bars(&[("typical", &card.budget)]);
        blocks.push(Block::Picture(bar, "budget".into()));
    }
    blocks.extend([
        Block::Table(troubles),
        heading("Cautions"),
        Block::List(cautions.collect()),
    ]);
    Document {
        title: card.title.clone(),
        subtitle: format!("Process card · revision {}", card.revision),
        one_sheet: true,
        running: format!("{} · process card · revision {}", card.title, card.revision),
        banner: if card.released {
            String::new()
        } else {
            "NOT RELEASED: a check says stop. Read the report.".into()
        },
        links: Vec::new(),
        blocks,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::process::card::{CardLine, CardSection, Cause, Trouble};
    use crate::write::document::html;

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
            budget: Vec::new(),
            cautions: vec!["Gloves".into()],
        };
        let page = html::page(&document(&card));
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
        let fine = html::page(&document(&ProcessCard {
            released: true,
            ..card
        }));
        assert!(!fine.contains("NOT RELEASED"));
    }
}
