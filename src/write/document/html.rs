//! A document as one standalone page: no scripts, nothing fetched.

use super::style::STYLE;
use super::{Block, Cell, Column, Document, Run, Set, Table, Tone};
use crate::write::drawing::svg;
use crate::write::markup::escape;

/// The page.
pub fn page(document: &Document) -> String {
    let title = escape(&document.title);
    let subtitle = escape(&document.subtitle);
    let mut body = format!("<header><h1>{title}</h1><p class=\"soft\">{subtitle}</p></header>\n");
    if !document.banner.is_empty() {
        let banner = escape(&document.banner);
        body.push_str(&format!("<p class=\"banner\">{banner}</p>\n"));
    }
    if !document.links.is_empty() {
        body.push_str("<nav>");
        for (id, words) in &document.links {
            let (id, words) = (escape(id), escape(words));
            body.push_str(&format!("<a href=\"#{id}\">{words}</a>"));
        }
        body.push_str("</nav>\n");
    }
    let mut open = false;
    for block in &document.blocks {
        if let Block::NewPage(id) = block {
            if open {
                body.push_str("</section>\n");
            }
            let id = escape(id);
            body.push_str(&format!("<section class=\"plate\" id=\"{id}\">"));
            open = true;
        } else {
            if open && matches!(block, Block::Screen(_)) {
                body.push_str("</section>\n");
                open = false;
            }
            push(&mut body, block);
        }
    }
    if open {
        body.push_str("</section>\n");
    }
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\
         <title>{title} – {subtitle}</title>\n<style>\n{STYLE}</style></head>\n<body>\n{body}</body></html>\n"
    )
}

fn push(out: &mut String, block: &Block) {
    match block {
        Block::Heading(level, text, id) => {
            let text = escape(text);
            let id = if id.is_empty() {
                String::new()
            } else {
                format!(" id=\"{}\"", escape(id))
            };
            out.push_str(&format!("<h{level}{id}>{text}</h{level}>\n"));
        }
        Block::Paragraph(runs) => {
            out.push_str("<p>");
            for r in runs {
                out.push_str(&run(r));
            }
            out.push_str("</p>\n");
        }
        Block::List(entries) => {
            out.push_str("<ul>\n");
            for (head, text) in entries {
                let (head, text) = (escape(head), escape(text));
                let head = if head.is_empty() {
                    head
                } else {
                    format!("<b>{head}</b> ")
                };
                out.push_str(&format!("<li>{head}{text}</li>\n"));
            }
            out.push_str("</ul>\n");
        }
        Block::Steps(steps) => {
            out.push_str("<ol>\n");
            for text in steps {
                out.push_str(&format!("<li>{}</li>\n", escape(text)));
            }
            out.push_str("</ol>\n");
        }
        Block::Table(t) => table(out, t),
        Block::Picture(d, name) => {
            let svg = svg::element(d, name);
            out.push_str(&format!("<div class=\"picture\">\n{svg}</div>\n"));
        }
        Block::Screen(blocks) => blocks.iter().for_each(|b| push(out, b)),
        Block::Markup(markup) => {
            out.push_str(&format!("<div class=\"picture\">\n{markup}</div>\n"));
        }
        Block::NewPage(_) => {}
    }
}

fn run(r: &Run) -> String {
    let text = escape(&r.text);
    let class = match r.tone {
        Tone::Plain => return text,
        Tone::Bold => return format!("<b>{text}</b>"),
        Tone::Soft => "soft",
        Tone::Caution => "caution",
        Tone::Stop => "stop",
        Tone::Warn => "warn",
        Tone::Note => "note",
    };
    format!("<span class=\"{class}\">{text}</span>")
}

fn class(c: &Column) -> &'static str {
    match c.set {
        Set::Words => "",
        Set::Wide => " class=\"w\"",
        Set::Word => " class=\"t\"",
        Set::Number => " class=\"n\"",
        Set::Fill => " class=\"fill\"",
    }
}

fn table(out: &mut String, t: &Table) {
    out.push_str("<div class=\"scroll\"><table><thead><tr>");
    for c in &t.columns {
        out.push_str(&format!("<th{}>{}</th>", class(c), escape(c.name)));
    }
    out.push_str("</tr></thead><tbody>\n");
    for row in &t.rows {
        out.push_str("<tr>");
        for (c, cell) in t.columns.iter().zip(row) {
            let inner = match cell {
                Cell::Box => "<span class=\"box\"></span>".to_owned(),
                Cell::Lines(lines) => lines.iter().map(run).collect::<Vec<_>>().join("<br>"),
            };
            out.push_str(&format!("<td{}>{inner}</td>", class(c)));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table></div>\n");
}
