//! The sheet as one standalone page.

use super::Sheet;
use super::cautions::CAUTIONS;
use super::style::STYLE;
use crate::base::units::{decimals, number};
use crate::base::{Decision, Origin};
use crate::data::material;
use crate::design::{Face, Plate};
use crate::shop::hole_table::{HoleRow, OtherRow, StepRow, hole_table, purpose_words};
use crate::shop::operation::{Operation, PlatePlan};
use crate::shop::view::{FaceView, face_name};
use crate::write::markup::escape;

/// A table under construction.
struct Table {
    html: String,
}

/// How a column is set: its heading and the class of its cells.
type Column = (&'static str, &'static str);

impl Table {
    fn new(columns: &[Column]) -> Self {
        let head: String = columns
            .iter()
            .map(|(name, class)| format!("<th{}>{}</th>", class_of(class), escape(name)))
            .collect();
        Self {
            html: format!("<div class=\"scroll\"><table><thead><tr>{head}</tr></thead><tbody>\n"),
        }
    }
    /// A row of cells that are markup already.
    fn row(&mut self, columns: &[Column], cells: &[String]) {
        debug_assert_eq!(columns.len(), cells.len());
        self.html.push_str("<tr>");
        for ((_, class), cell) in columns.iter().zip(cells) {
            self.html
                .push_str(&format!("<td{}>{cell}</td>", class_of(class)));
        }
        self.html.push_str("</tr>\n");
    }
    fn end(mut self) -> String {
        self.html.push_str("</tbody></table></div>\n");
        self.html
    }
}

fn class_of(class: &str) -> String {
    if class.is_empty() {
        String::new()
    } else {
        format!(" class=\"{class}\"")
    }
}

const BOX: &str = "<span class=\"box\"></span>";

/// The page.
pub fn page(sheet: &Sheet<'_>) -> String {
    let d = sheet.design;
    let title = escape(&d.title);
    let mut body = format!(
        "<header><h1>{title}</h1><p class=\"soft\">Machining sheet · revision {} · all sizes in mm · \
         general tolerances ISO 2768-m</p></header>\n",
        escape(&d.revision)
    );
    if !sheet.released() {
        body.push_str(
            "<p class=\"banner\">NOT RELEASED – do not cut metal: a finding marked stop stands below</p>\n",
        );
    }
    body.push_str("<nav>");
    for p in &d.plates {
        let (id, title) = (escape(&p.name), escape(&p.title));
        body.push_str(&format!("<a href=\"#{id}\">{title}</a>"));
    }
    body.push_str(
        "<a href=\"#buy\">To buy</a><a href=\"#cautions\">Cautions</a><a href=\"#reasons\">Reasons</a></nav>\n",
    );
    body.push_str(&findings(sheet));
    body.push_str(&overview(sheet));
    for (plate, plan) in d.plates.iter().zip(&sheet.plan.plates) {
        body.push_str(&plate_section(sheet, plate, plan));
    }
    body.push_str(&hardware(sheet));
    body.push_str(&cautions());
    body.push_str(&reasons(&d.decisions.0));
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\
         <title>{title} – machining sheet</title>\n<style>\n{STYLE}</style></head>\n<body>\n{body}</body></html>\n"
    )
}

fn findings(sheet: &Sheet<'_>) -> String {
    let all = sheet.findings();
    if all.is_empty() {
        return "<h2>Findings</h2><p>None: every check passed.</p>\n".into();
    }
    let columns = [
        ("level", "t"),
        ("where", ""),
        ("what", "w"),
        ("why", "w"),
        ("what to change", "w"),
    ];
    let mut t = Table::new(&columns);
    for f in all {
        let word = f.level.word();
        t.row(
            &columns,
            &[
                format!("<span class=\"{word}\">{word}</span>"),
                escape(&f.at),
                escape(&f.what),
                escape(&f.why),
                escape(&f.change),
            ],
        );
    }
    format!("<h2>Findings</h2>\n{}", t.end())
}

fn overview(sheet: &Sheet<'_>) -> String {
    let columns = [("solid", "t"), ("volume, cm³", "n"), ("mass, g", "n")];
    let mut t = Table::new(&columns);
    for s in sheet.solids {
        t.row(
            &columns,
            &[
                escape(&s.name),
                decimals(s.volume_mm3 / 1000.0, 2),
                decimals(s.mass_g, 1),
            ],
        );
    }
    let minutes: f64 = sheet.plan.plates.iter().map(PlatePlan::minutes).sum();
    let time = format!(
        "<p>Estimated working time for all plates: about {}, without waiting and mishaps.</p>\n",
        hours(minutes)
    );
    if sheet.solids.is_empty() {
        time
    } else {
        format!("<h2>Sizes and time</h2>\n{}{time}", t.end())
    }
}

/// `1 h 25 min`, rounded to five minutes.
fn hours(minutes: f64) -> String {
    let m = (minutes / 5.0).ceil() as u64 * 5;
    match (m / 60, m % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}

fn plate_section(sheet: &Sheet<'_>, plate: &Plate, plan: &PlatePlan) -> String {
    let b = plate.outline.bounds();
    let metal = material(&plate.material).map_or(plate.material.as_str(), |m| m.name.as_str());
    let mut out = format!(
        "<section class=\"plate\" id=\"{}\"><h2>{}</h2>\n<p>Stock: {}, {} × {} × {} mm. Time: about {}.</p>\n",
        escape(&plate.name),
        escape(&plate.title),
        escape(metal),
        number(b.width()),
        number(b.height()),
        number(plate.thickness()),
        hours(plan.minutes())
    );
    if let Some(svg) = sheet.pictures.get(&plate.name) {
        out.push_str(&format!("<div class=\"picture\">\n{svg}</div>\n"));
    }
    out.push_str("<h3>Set-ups</h3><ul>\n");
    for s in &plan.setups {
        out.push_str(&format!(
            "<li>{}: {} up; coordinates {}.</li>\n",
            s.number,
            escape(s.name),
            escape(s.note)
        ));
    }
    out.push_str("</ul>\n");
    out.push_str(&holes(plate));
    out.push_str(&operations(plan));
    out.push_str(&tools(plan));
    out.push_str(&inspection(plan));
    out.push_str("</section>\n");
    out
}

fn holes(plate: &Plate) -> String {
    let table = hole_table(plate);
    let mut out = String::from("<h3>Hole table</h3>\n");
    for face in [plate.reference, other(plate.reference)] {
        let rows: Vec<&HoleRow> = table.holes.iter().filter(|r| r.face == face).collect();
        if !rows.is_empty() {
            out.push_str(&caption(plate, face, "Drilled from the"));
            out.push_str(&hole_rows(&rows));
        }
    }
    for face in [plate.reference, other(plate.reference)] {
        let rows: Vec<&OtherRow> = table.others.iter().filter(|r| r.face == face).collect();
        if !rows.is_empty() {
            out.push_str(&caption(plate, face, "Milled from the"));
            out.push_str(&other_rows(&rows));
        }
    }
    out
}

fn other(face: Face) -> Face {
    match face {
        Face::Low => Face::High,
        Face::High => Face::Low,
    }
}

fn caption(plate: &Plate, face: Face, words: &str) -> String {
    format!(
        "<p>{words} <b>{}</b>: coordinates {}.</p>\n",
        face_name(plate, face),
        escape(FaceView::on(plate, face).note())
    )
}

fn limits(s: &StepRow) -> String {
    s.limits.map_or(String::new(), |(low, high)| {
        let places = if s.fit.is_empty() { 2 } else { 3 };
        format!("{low:.places$} – {high:.places$}")
    })
}

fn hole_rows(rows: &[&HoleRow]) -> String {
    let columns = [
        ("tag", "t"),
        ("for", "t"),
        ("X", "n"),
        ("Y", "n"),
        ("step", "t"),
        ("ø", "n"),
        ("depth", "n"),
        ("thread", "t"),
        ("ø from – to", "n"),
        ("note", ""),
        ("measured", "fill"),
    ];
    let mut t = Table::new(&columns);
    for r in rows {
        for (i, s) in r.steps.iter().enumerate() {
            let first = |text: String| if i == 0 { text } else { String::new() };
            let depth = match (s.what, s.depth, s.depth_tolerance) {
                ("countersink", ..) => String::new(),
                (_, None, _) => "through".into(),
                (_, Some(d), Some(t)) => format!("{} ±{}", number(d), number(t)),
                (_, Some(d), None) => number(d),
            };
            let fit = if s.fit.is_empty() {
                String::new()
            } else {
                format!(" {}", escape(&s.fit))
            };
            let dia = if s.thread.is_empty() {
                format!("{}{fit}", number(s.dia))
            } else {
                String::new()
            };
            t.row(
                &columns,
                &[
                    first(escape(&r.tag)),
                    first(purpose_words(r.purpose).into()),
                    first(decimals(r.x, 3)),
                    first(decimals(r.y, 3)),
                    s.what.into(),
                    dia,
                    depth,
                    escape(&s.thread),
                    limits(s),
                    escape(&s.note),
                    String::new(),
                ],
            );
        }
    }
    t.end()
}

fn other_rows(rows: &[&OtherRow]) -> String {
    let columns = [
        ("tag", "t"),
        ("for", "t"),
        ("X from – to", "n"),
        ("Y from – to", "n"),
        ("depth", "n"),
        ("what", "w"),
        ("measured", "fill"),
    ];
    let mut t = Table::new(&columns);
    for r in rows {
        let [x0, x1, y0, y1] = r.extent.map(|v| decimals(v, 3));
        t.row(
            &columns,
            &[
                escape(&r.tag),
                purpose_words(r.purpose).into(),
                format!("{x0} – {x1}"),
                format!("{y0} – {y1}"),
                format!("{} ±{}", number(r.depth), number(r.depth_tolerance)),
                escape(&r.what),
                String::new(),
            ],
        );
    }
    t.end()
}

fn operations(plan: &PlatePlan) -> String {
    let columns = [
        ("no.", "n"),
        ("set-up", "n"),
        ("operation", "w"),
        ("tool", ""),
        ("1/min", "n"),
        ("mm/min", "n"),
        ("passes", ""),
        ("lubricant", ""),
        ("min", "n"),
        ("measured", "fill"),
        ("done", "t"),
    ];
    let mut t = Table::new(&columns);
    for o in &plan.operations {
        t.row(&columns, &operation_cells(o));
    }
    format!(
        "<h3>Operations</h3>\n<p class=\"soft\">Speeds n = 1000 v / (π d), limited to the spindle (max: the tool could \
         run faster); with a hand feed, mm/min is a guide. Times are estimates.</p>\n{}",
        t.end()
    )
}

fn operation_cells(o: &Operation) -> [String; 11] {
    let whole = |v: Option<f64>| v.map_or(String::new(), |v| decimals(v, 0));
    let mut what = escape(&o.what);
    if !o.caution.is_empty() {
        what.push_str(&format!(
            "<br><span class=\"caution\">{}</span>",
            escape(&o.caution)
        ));
    }
    let measure: Vec<String> = o
        .measure
        .iter()
        .map(|m| format!("{}: ____", escape(m)))
        .collect();
    [
        o.number.to_string(),
        o.setup.to_string(),
        what,
        escape(&o.tool),
        if o.limited {
            format!("{} max", whole(o.rpm))
        } else {
            whole(o.rpm)
        },
        whole(o.feed),
        escape(&o.passes),
        escape(o.coolant),
        decimals(o.minutes.ceil(), 0),
        measure.join("<br>"),
        BOX.into(),
    ]
}

fn tools(plan: &PlatePlan) -> String {
    let columns = [("at hand", "t"), ("tool", "w"), ("operations", "")];
    let mut t = Table::new(&columns);
    for (tool, numbers) in plan.tools() {
        let list: Vec<String> = numbers.iter().map(ToString::to_string).collect();
        t.row(&columns, &[BOX.into(), escape(&tool), list.join(", ")]);
    }
    format!("<h3>Tools</h3>\n{}", t.end())
}

fn inspection(plan: &PlatePlan) -> String {
    let columns = [
        ("after", "n"),
        ("check", "w"),
        ("measured", "fill"),
        ("good", "t"),
    ];
    let mut t = Table::new(&columns);
    for (number, text) in plan.inspection() {
        t.row(
            &columns,
            &[number.to_string(), escape(text), String::new(), BOX.into()],
        );
    }
    format!("<h3>Inspection</h3>\n{}", t.end())
}

fn hardware(sheet: &Sheet<'_>) -> String {
    let columns = [
        ("have", "t"),
        ("number", "n"),
        ("designation", "w"),
        ("for", "w"),
    ];
    let mut t = Table::new(&columns);
    for h in &sheet.design.hardware {
        t.row(
            &columns,
            &[
                BOX.into(),
                h.count.to_string(),
                escape(&h.designation),
                escape(&h.purpose),
            ],
        );
    }
    format!("<h2 id=\"buy\">To buy</h2>\n{}", t.end())
}

fn cautions() -> String {
    let mut out = String::from("<h2 id=\"cautions\">Cautions</h2>\n<ul>\n");
    for (subject, text) in CAUTIONS {
        out.push_str(&format!("<li><b>{subject}.</b> {}</li>\n", escape(text)));
    }
    out.push_str("</ul>\n");
    out
}

fn reasons(all: &[Decision]) -> String {
    let columns = [
        ("key", "t"),
        ("value", "t"),
        ("rule", "w"),
        ("inputs", ""),
        ("source", ""),
        ("changes with", ""),
    ];
    let mut t = Table::new(&columns);
    for d in all {
        let inputs: Vec<String> = d
            .inputs
            .iter()
            .map(|(n, v)| format!("{} = {}", escape(n), escape(v)))
            .collect();
        let rule = match d.origin {
            Origin::File => "as written in the parameter file".into(),
            Origin::Rule => escape(&d.rule),
        };
        t.row(
            &columns,
            &[
                escape(&d.key),
                escape(&d.value),
                rule,
                inputs.join("; "),
                escape(&d.source),
                escape(&d.changes_with),
            ],
        );
    }
    format!("<h2 id=\"reasons\">Reasons</h2>\n{}", t.end())
}
