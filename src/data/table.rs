//! Every built-in table as text cells, for `platewright tables`.
//!
//! Input: the built-in files. Output: [`Table`] with header, rows, sources, confidence.
//! Does not lay text out: see `cli`.

use super::catalog::ENTRIES;
use super::cited::Confidence;
use super::pipe::{Bore, PipeFamily, PipeThread, sizes};
use crate::base::units::number;
use serde::Serialize;
use std::sync::LazyLock;

/// A table for reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Table {
    /// kebab-case: "pipe-threads".
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Column heads with units.
    pub header: Vec<String>,
    /// The rows.
    pub rows: Vec<TableRow>,
}

/// A row of a [`Table`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TableRow {
    /// One text per column of the header.
    pub cells: Vec<String>,
    /// Where the row comes from; a joined row names one source per part.
    pub sources: Vec<Citation>,
}

/// A source with the confidence of what was taken from it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Citation {
    /// Where it comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

impl Citation {
    /// True where every output marks it: recalled, or weaker.
    pub fn is_weak(&self) -> bool {
        self.confidence.is_weak() || self.source.starts_with("from memory")
    }
}

impl TableRow {
    /// True where any part of the row is marked.
    pub fn is_weak(&self) -> bool {
        self.sources.iter().any(Citation::is_weak)
    }
}

impl Table {
    /// The distinct sources, in the order of the rows.
    pub fn sources(&self) -> Vec<&Citation> {
        let mut all: Vec<&Citation> = Vec::new();
        for citation in self.rows.iter().flat_map(|r| &r.sources) {
            if !all.contains(&citation) {
                all.push(citation);
            }
        }
        all
    }
}

/// Every built-in table: first the summary of the pipe threads, then each file.
pub fn tables() -> &'static [Table] {
    static ALL: LazyLock<Vec<Table>> = LazyLock::new(|| {
        std::iter::once(pipe_summary())
            .chain(ENTRIES.iter().map(|e| {
                from_csv(e.id, e.title, e.text)
                    .expect("the built-in tables parse: a test reads every one of them")
            }))
            .collect()
    });
    &ALL
}

/// A table by its id.
pub fn table(id: &str) -> Option<&'static Table> {
    tables().iter().find(|t| t.id == id)
}

fn from_csv(id: &str, title: &str, text: &str) -> Option<Table> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header: Vec<String> = reader.headers().ok()?.iter().map(str::to_owned).collect();
    let last = header.len().checked_sub(2)?;
    if header[last] != "source" || header[last + 1] != "confidence" {
        return None;
    }
    let rows = reader
        .records()
        .map(|record| {
            let mut cells: Vec<String> = record.ok()?.iter().map(str::to_owned).collect();
            let confidence = serde_json::from_value(cells.pop()?.into()).ok()?;
            let source = cells.pop()?;
            Some(TableRow {
                cells,
                sources: vec![Citation { source, confidence }],
            })
        })
        .collect::<Option<Vec<_>>>()?;
    Some(Table {
        id: id.to_owned(),
        title: title.to_owned(),
        header: header[..last].iter().map(|h| head(h)).collect(),
        rows,
    })
}

/// Ends of column names that are units.
const UNITS: [(&str, &str); 21] = [
    ("_kg_per_m2_per_mm", "kg/m² per mm"),
    ("_m_per_min", "m/min"),
    ("_kg_m3", "kg/m³"),
    ("_um_mk", "µm/(m K)"),
    ("_w_mk", "W/(m K)"),
    ("_j_kgk", "J/(kg K)"),
    ("_pa_s", "Pa s"),
    ("_mm2", "mm²"),
    ("_mpa", "MPa"),
    ("_gpa", "GPa"),
    ("_deg", "deg"),
    ("_mm", "mm"),
    ("_um", "µm"),
    ("_nm", "N m"),
    ("_kn", "kN"),
    ("_pa", "Pa"),
    ("_in", "inch"),
    ("_n", "N"),
    ("_c", "°C"),
    ("_k", "K"),
    ("_s", "s"),
];

/// "tap_drill_mm" → "tap drill mm", "hole_h7_lower_um" → "hole H7 lower µm".
fn head(column: &str) -> String {
    let unit = UNITS.iter().find(|(end, _)| column.ends_with(end));
    let name = unit.map_or(column, |(end, _)| &column[..column.len() - end.len()]);
    let words = name.split('_').map(|word| match word {
        "rp" => "Rp".to_owned(),
        "r" | "hss" | "h7" | "h11" | "g7" | "e0" | "e1" | "l1" | "l2" | "l3" | "d1" | "d2"
        | "a1" | "a2" => word.to_uppercase(),
        _ if word.starts_with("it") && word[2..].parse::<u8>().is_ok() => word.to_uppercase(),
        _ => word.to_owned(),
    });
    let mut text = words.collect::<Vec<_>>().join(" ");
    if let Some((_, unit)) = unit {
        text.push(' ');
        text.push_str(unit);
    }
    text
}

/// All families side by side: what a workshop asks for first.
fn pipe_summary() -> Table {
    let header = [
        "thread",
        "tpi",
        "pitch mm",
        "major mm",
        "pitch dia mm",
        "minor mm",
        "taper",
        "hand tight mm",
        "external length mm",
        "sealed length mm",
        "tap drill mm",
    ];
    let mut rows = Vec::new();
    for family in PipeFamily::ALL {
        for size in sizes() {
            let thread = PipeThread {
                family,
                size: size.to_owned(),
            };
            let (Some(form), Some(drill)) = (thread.form(), thread.tap_drill(Bore::Short)) else {
                continue;
            };
            let length = |l: Option<f64>| l.map_or("-".to_owned(), |l| format!("{l:.2}"));
            rows.push(TableRow {
                cells: vec![
                    thread.designation(),
                    number(form.tpi),
                    format!("{:.3}", form.pitch),
                    format!("{:.3}", form.major),
                    format!("{:.3}", form.pitch_dia),
                    format!("{:.3}", form.minor),
                    if form.taper > 0.0 { "1:16" } else { "-" }.to_owned(),
                    length(form.hand_tight),
                    length(form.external_length),
                    length(form.sealed_length),
                    number(drill.usable_mm()),
                ],
                sources: vec![
                    Citation {
                        source: form.source,
                        confidence: form.confidence,
                    },
                    Citation {
                        source: if drill.within_limits() {
                            format!("Tap drill: {}", drill.source)
                        } else {
                            format!(
                                "Tap drill: the published {} exceeds the largest minor diameter, \
                                 next quarter millimetre below taken; {}",
                                number(drill.drill_mm),
                                drill.source
                            )
                        },
                        confidence: drill.confidence,
                    },
                ],
            });
        }
    }
    Table {
        id: "pipe-threads".to_owned(),
        title: "Pipe threads: diameters at the gauge plane, lengths, tap drills".to_owned(),
        header: header.map(str::to_owned).to_vec(),
        rows,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_has_its_cells_a_source_and_a_confidence() {
        assert_eq!(tables().len(), ENTRIES.len() + 1);
        for t in tables() {
            assert!(!t.rows.is_empty(), "{}", t.id);
            for r in &t.rows {
                assert_eq!(r.cells.len(), t.header.len(), "{}", t.id);
                assert!(!r.sources.is_empty(), "{}: {:?}", t.id, r.cells);
                assert!(
                    r.sources.iter().all(|c| c.source.len() > 2),
                    "{}: {:?}",
                    t.id,
                    r.cells
                );
            }
        }
    }

    #[test]
    fn ids_are_kebab_case_and_unique() {
        let mut ids: Vec<&str> = tables().iter().map(|t| t.id.as_str()).collect();
        for id in &ids {
            assert!(
                id.chars()
                    .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'),
                "{id}"
            );
        }
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), tables().len());
    }

    #[test]
    fn heads_name_their_unit() {
        assert_eq!(head("tap_drill_mm"), "tap drill mm");
        assert_eq!(head("hole_h7_lower_um"), "hole H7 lower µm");
        assert_eq!(head("it11_um"), "IT11 µm");
        assert_eq!(head("speed_low_m_per_min"), "speed low m/min");
        assert_eq!(head("item"), "item");
        assert_eq!(head("c"), "c");
    }

    #[test]
    fn sources_are_names_not_addresses() {
        for t in tables() {
            for r in &t.rows {
                let text = format!("{} {:?}", r.cells.join(" "), r.sources);
                for bad in ["http", "://", ".csv", ".py"] {
                    assert!(!text.contains(bad), "{}: {text}", t.id);
                }
            }
        }
    }

    #[test]
    fn the_summary_shows_all_families_and_marks_the_chosen_drill() {
        let t = table("pipe-threads").unwrap();
        assert_eq!(t.rows.len(), 4 * 9);
        let row = |name: &str| t.rows.iter().find(|r| r.cells[0] == name).unwrap();
        let drill = |name: &str| row(name).cells[10].clone();
        assert_eq!(drill("G 1/2"), "19");
        assert_eq!(drill("Rp 1/2"), "18.75");
        assert_eq!(drill("1/2-14 NPT"), "18.26");
        assert_eq!(drill("Rc 1/2"), "17.9");
        assert!(row("Rp 1 1/2").is_weak() && !row("G 1/2").is_weak());
    }
}
