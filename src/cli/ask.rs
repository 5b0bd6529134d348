//! `new --ask`: a short interview that ends in a commented parameter file.
//!
//! Input: lines of answers, from a terminal or a pipe. Output: the file's text. Each answer
//! is held against the key's own definition, so that what is refused here is what the file
//! would be refused for. Writes nothing itself.

use crate::base::dimension::Dimension;
use crate::base::quantity;
use crate::base::units::number;
use crate::base::{Diagnostic, Diagnostics};
use crate::data::plastics::{self, Marked};
use crate::design::{self, Hints};
use crate::spec::job::Units;
use crate::spec::{self, key::Kind, sections};
use std::io::{self, BufRead, Write};

/// How an interview that was not broken off ends.
#[derive(Debug)]
pub(super) enum Interview {
    /// The name of the job, and the file's text.
    Done(String, String),
    /// The answers end early: no more input.
    Ended,
    /// Each answer was good, but they do not go together: the text, and why.
    Apart(String, Diagnostics),
}

/// What can be made, with the words of the menu.
const MAKES: [(&str, &str); 3] = [
    ("round", "a round part, one thickness: coaster, lid, button"),
    ("rectangle", "a rectangular part, one thickness: tag, tile"),
    ("adaptor", "a nozzle adaptor plate for the machine"),
];

/// Units of answers and of everything that is written.
const UNITS: [(&str, &str); 2] = [
    ("metric", "millimetres, newtons, °C"),
    ("inch", "inches, pounds, °F; 1/4-20 screws, Letter paper"),
];

/// Longest answer that is looked at, bytes.
const LONGEST: u64 = 500;

struct Talk<'a> {
    input: &'a mut dyn BufRead,
    out: &'a mut dyn Write,
    text: String,
    /// What an answer without a unit means.
    units: Units,
}

/// The input has ended.
struct Ended;

impl From<io::Error> for Ended {
    fn from(_: io::Error) -> Self {
        Ended
    }
}

/// Asks, until everything is known.
pub(super) fn interview(input: &mut dyn BufRead, out: &mut dyn Write) -> Interview {
    let mut talk = Talk {
        input,
        out,
        text: String::from(
            "# Plain numbers are mm, deg, N, MPa, °C. Text may carry a unit: \"3/8 in\", \"50 lbf\".\n\
             # Whatever is left out is decided by rule; `platewright why FILE bolts.count` says how.\n",
        ),
        units: Units::Metric,
    };
    let Ok(name) = all(&mut talk) else {
        return Interview::Ended;
    };
    let text = talk.text;
    let designed = spec::read(&text).and_then(|job| {
        job.system().enter();
        design::design(&job, &name, &Hints::default())
    });
    match designed {
        Ok(_) => Interview::Done(name, text),
        Err(faults) => Interview::Apart(text, faults),
    }
}

fn all(t: &mut Talk<'_>) -> Result<String, Ended> {
    t.say("Return takes the answer in brackets. Ctrl-C ends; nothing is written before the last answer.\n")?;
    if t.choose("Which units do you work in?", &UNITS)? == "inch" {
        t.units = Units::Inch;
    }
    t.units.system().enter();
    let make = t.choose("What will you make?", &MAKES)?;
    t.section("job");
    let name = t.value("job.name", "What is it called (folder name)?", make)?;
    if make == "adaptor" {
        t.line("kind = \"adaptor\"", "no part, no mold");
    } else {
        t.section("plastic");
        plastic(t)?;
        t.text.push_str("# Sort by mark. PVC (mark 3) gives off toxic, corrosive gas when overheated: never melt it.\n");
    }
    t.section("machine");
    t.value(
        "machine.barrel_bore",
        "Bore of the barrel?",
        t.usual("26", "1 in"),
    )?;
    t.value(
        "machine.stroke",
        "Stroke of the plunger?",
        t.usual("120", "4 3/4 in"),
    )?;
    t.value(
        "machine.hand_force",
        "Force of the hand at the lever?",
        t.usual("150 N", "35 lbf"),
    )?;
    t.value(
        "machine.lever_ratio",
        "Hand travel to plunger travel?",
        "25",
    )?;
    t.section("nozzle");
    t.value(
        "nozzle.thread",
        "Thread for the nozzle (G, Rp, Rc or NPT, and size)?",
        t.usual("G 1/2", "1/2 NPT"),
    )?;
    if make == "adaptor" {
        adaptor(t)?;
    } else {
        t.value(
            "nozzle.joint",
            "Thread tapped into the plate (tapped), or a fitting welded on (welded)?",
            "tapped",
        )?;
        part(t, make)?;
    }
    t.section("shop");
    t.value(
        "shop.machines",
        "Which tools are at hand (with commas)?",
        "drill press, mill",
    )?;
    if t.units == Units::Inch {
        t.section("output");
        let doc = sections::find("output.units").map_or("", |k| k.doc);
        t.line("units = \"inch\"", doc);
    }
    Ok(name)
}

/// The plastic by its name, or by the recycling mark that is moulded into what is melted.
fn plastic(t: &mut Talk<'_>) -> Result<(), Ended> {
    const ASK: &str = "Which plastic? Its name, or the number in the recycling triangle";
    loop {
        let answer = t.ask(ASK, "PP")?;
        let mark = answer.trim_start_matches('#').parse::<u32>();
        let name = match mark.ok().map(plastics::by_mark) {
            None => answer,
            Some(Some(Marked::Plastic(name))) => name.to_owned(),
            Some(Some(Marked::OneOf(names, how))) => {
                t.say(&format!("  {how}\n"))?;
                let one = t.ask(&format!("Which of them: {}?", names.join(", ")), names[0])?;
                // Another name is not what the mark says.
                match names.iter().find(|n| n.eq_ignore_ascii_case(&one)) {
                    Some(name) => (*name).to_owned(),
                    None => continue,
                }
            }
            Some(Some(Marked::Refused(why))) => {
                t.say(&format!("  {why}\n"))?;
                continue;
            }
            Some(None) => {
                t.say("  the marks go from 1 to 7\n")?;
                continue;
            }
        };
        if t.write("plastic.kind", &name)? {
            return Ok(());
        }
    }
}

fn part(t: &mut Talk<'_>, make: &str) -> Result<(), Ended> {
    t.section("part");
    t.value(
        "part.thickness",
        "How thick is the part?",
        t.usual("4", "5/32 in"),
    )?;
    t.value(
        "part.draft",
        "Slope of its wall, so that it lets go (degrees)?",
        "2",
    )?;
    t.section("part.outline");
    if make == "round" {
        t.line(
            "shape = \"circle\"",
            "circle, rectangle, slot, polygon, path",
        );
        t.value(
            "part.outline.diameter",
            "Its diameter?",
            t.usual("90", "3 1/2 in"),
        )?;
    } else {
        t.line(
            "shape = \"rectangle\"",
            "circle, rectangle, slot, polygon, path",
        );
        t.value(
            "part.outline.width",
            "Its width?",
            t.usual("60", "2 1/2 in"),
        )?;
        t.value(
            "part.outline.height",
            "Its height?",
            t.usual("30", "1 1/4 in"),
        )?;
        t.value(
            "part.outline.corner_radius",
            "Radius of its corners?",
            t.usual("4", "3/16 in"),
        )?;
    }
    Ok(())
}

fn adaptor(t: &mut Talk<'_>) -> Result<(), Ended> {
    t.section("adaptor");
    t.value(
        "adaptor.thickness",
        "How thick is the plate?",
        t.usual("20", "3/4 in"),
    )?;
    t.value("adaptor.material", "Which metal?", t.usual("S235", "A36"))?;
    t.value(
        "adaptor.size",
        "Screws that hold it?",
        t.usual("M8", "1/4-20"),
    )?;
    t.section("adaptor.pattern");
    t.line("pattern = \"circle\"", "circle or grid");
    t.value("adaptor.pattern.count", "How many screws?", "4")?;
    t.value(
        "adaptor.pattern.diameter",
        "On which bolt circle?",
        t.usual("70", "3 in"),
    )?;
    Ok(())
}

impl Talk<'_> {
    /// The usual answer in the units that are worked in.
    fn usual(&self, metric: &'static str, inch: &'static str) -> &'static str {
        match self.units {
            Units::Metric => metric,
            Units::Inch => inch,
        }
    }

    fn say(&mut self, text: &str) -> Result<(), Ended> {
        self.out.write_all(text.as_bytes())?;
        self.out.flush()?;
        Ok(())
    }

    /// A line of input without its end, or that there is none.
    fn answer(&mut self) -> Result<String, Ended> {
        let mut bytes = Vec::new();
        let n = io::Read::take(&mut *self.input, LONGEST).read_until(b'\n', &mut bytes)?;
        if n as u64 == LONGEST {
            // The rest of an endless line is no next answer.
            self.input.skip_until(b'\n')?;
        }
        if n == 0 {
            return Err(Ended);
        }
        Ok(String::from_utf8_lossy(&bytes).trim().to_owned())
    }

    fn choose<'w>(&mut self, ask: &str, words: &'w [(&'w str, &str)]) -> Result<&'w str, Ended> {
        self.say(&format!("{ask}\n"))?;
        for (i, (word, about)) in words.iter().enumerate() {
            self.say(&format!("  {} {word:<10} {about}\n", i + 1))?;
        }
        loop {
            self.say("[1] ")?;
            let answer = self.answer()?;
            let by_number = if answer.is_empty() {
                Ok(1)
            } else {
                answer.parse::<usize>()
            };
            let found = match by_number {
                Ok(n) => words.get(n.wrapping_sub(1)),
                Err(_) => words.iter().find(|w| w.0.eq_ignore_ascii_case(&answer)),
            };
            match found {
                Some((word, _)) => return Ok(word),
                None => self.say(&format!(
                    "  \"{answer}\" is none of them; give a number from 1 to {}, or the word\n",
                    words.len()
                ))?,
            }
        }
    }

    /// An answer, the usual one for none.
    fn ask(&mut self, ask: &str, usual: &str) -> Result<String, Ended> {
        self.say(&format!("{ask} [{usual}] "))?;
        let answer = self.answer()?;
        Ok(if answer.is_empty() {
            usual.to_owned()
        } else {
            answer
        })
    }

    /// Writes the line of a key, or says what is wrong with the answer.
    fn write(&mut self, path: &str, answer: &str) -> Result<bool, Ended> {
        let written = literal(path, answer, self.units);
        match fault(path, &written) {
            None => {
                let (key, doc) = sections::find(path).map_or((path, ""), |k| (k.name, k.doc));
                self.line(&format!("{key} = {written}"), doc);
                Ok(true)
            }
            Some(d) => {
                self.say(&format!("  {}; {}\n", d.message, d.remedy))?;
                Ok(false)
            }
        }
    }

    /// Asks for the value of a key until it is one; writes its line. The answer as given.
    fn value(&mut self, path: &str, ask: &str, usual: &str) -> Result<String, Ended> {
        loop {
            let answer = self.ask(ask, usual)?;
            if self.write(path, &answer)? {
                return Ok(answer);
            }
        }
    }

    fn section(&mut self, name: &str) {
        self.text.push_str(&format!("\n[{name}]\n"));
    }

    fn line(&mut self, line: &str, comment: &str) {
        self.text.push_str(&format!("{line:<32}# {comment}\n"));
    }
}

/// The unit of a plain number where inches are worked in.
fn inch_unit(dimension: Dimension) -> Option<&'static str> {
    match dimension {
        Dimension::Length => Some("in"),
        Dimension::Force => Some("lbf"),
        Dimension::Pressure => Some("psi"),
        Dimension::Temperature => Some("°F"),
        _ => None,
    }
}

/// An answer as it is written in the file: a number, a text, a list of words.
fn literal(path: &str, answer: &str, units: Units) -> String {
    let quoted = |s: &str| toml::Value::String(s.to_owned()).to_string();
    match sections::find(path).map(|k| k.kind) {
        Some(Kind::Words(_)) => {
            let words: Vec<String> = answer.split(',').map(|w| quoted(w.trim())).collect();
            format!("[{}]", words.join(", "))
        }
        Some(kind @ (Kind::Quantity { .. } | Kind::Count { .. } | Kind::Corners { .. })) => {
            let dimension = match kind {
                Kind::Quantity { dimension, .. } => Some(dimension),
                Kind::Corners { .. } => Some(Dimension::Length),
                _ => None,
            };
            let unit = dimension
                .and_then(inch_unit)
                .filter(|_| units == Units::Inch);
            // "3/4" is a number too; what has its unit keeps it.
            if let Some(unit) = unit
                && quantity::parse(answer, Dimension::Number).is_ok()
            {
                return quoted(&format!("{answer} {unit}"));
            }
            match answer.parse::<f64>() {
                Ok(v) if v.is_finite() && v.abs() < 1e9 => number(v),
                _ => quoted(answer),
            }
        }
        _ => quoted(answer),
    }
}

/// What is wrong with a value alone.
fn fault(path: &str, written: &str) -> Option<Diagnostic> {
    let text = format!("{path} = {written}\n");
    let start = text.len() - written.len() - 1;
    let faults = spec::read(&text).err()?;
    faults
        .0
        .into_iter()
        .find(|d| d.span.end > start && d.span.start < text.len() && d.span.start >= start)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::System;

    fn talk(answers: &str) -> (Interview, String) {
        let mut out = Vec::new();
        let end = interview(&mut answers.as_bytes(), &mut out);
        (end, String::from_utf8(out).expect("text"))
    }

    #[test]
    fn return_alone_gives_files_that_can_be_made() {
        let makes = ["1", "2", "3", "round", "Rectangle", "adaptor", ""];
        for first in ["metric", "inch"]
            .iter()
            .flat_map(|u| makes.map(|m| format!("{u}\n{m}")))
        {
            let (end, _) = talk(&format!("{first}\n{}", "\n".repeat(40)));
            let Interview::Done(name, text) = end else {
                panic!("{first}: {end:?}")
            };
            assert!(!name.is_empty());
            // Every value is explained.
            for line in text.lines().filter(|l| l.contains(" = ")) {
                assert!(line.contains("# "), "{line}");
            }
        }
    }

    #[test]
    fn nonsense_is_refused_with_what_would_be_right_and_asked_again() {
        let answers = "furlong\n\n7\nspoon\n1\nMy Disk\ndisk\nPVC\nwood\nHDPE\n-4\nwide\n1 in\n\n300 N\n300 bar\n\n12\nM12\nG 1/2\n\
                       glued\nwelded\n\n\n\nhammer\ndrill press, welder\n";
        let (end, said) = talk(answers);
        for words in [
            "\"furlong\" is none of them",
            "\"7\" is none of them",
            "\"spoon\" is none of them",
            "never",
            "from 5 mm to 120 mm",
            "tapped",
            "drill press",
        ] {
            assert!(said.contains(words), "{words}\n{said}");
        }
        // "300 N" was taken for the hand's force, "300 bar" refused as a ratio.
        let Interview::Done(name, text) = end else {
            panic!("{end:?}\n{said}")
        };
        assert_eq!(name, "disk");
        for line in [
            "name = \"disk\"",
            "kind = \"HDPE\"",
            "barrel_bore = \"1 in\"",
            "stroke = 120",
            "hand_force = \"300 N\"",
            "joint = \"welded\"",
            "machines = [\"drill press\", \"welder\"]",
        ] {
            assert!(text.contains(line), "{line}\n{text}");
        }
    }

    #[test]
    fn recycling_marks_name_the_plastic() {
        let kind = |answers: &str| {
            let (end, said) = talk(&format!("\n1\n\n{answers}{}", "\n".repeat(40)));
            let Interview::Done(_, text) = end else {
                panic!("{end:?}\n{said}")
            };
            let line = text
                .lines()
                .find(|l| l.starts_with("kind = "))
                .expect("a plastic");
            (line.split('"').nth(1).expect("a name").to_owned(), said)
        };
        for (answers, want) in [
            ("2\n", "HDPE"),
            ("#4\n", "LDPE"),
            ("5\n", "PP"),
            ("6\nhips\n", "HIPS"),
            ("6\nwood\n6\n\n", "PS"),
            ("7\nPA6\n", "PA6"),
            ("9\nPP\n", "PP"),
        ] {
            assert_eq!(kind(answers).0, want, "{answers:?}");
        }
        // Bottles and PVC are refused with their reasons, and PETG is not offered for PET.
        let (name, said) = kind("1\n3\nPET\nPP\n");
        assert_eq!(name, "PP");
        assert!(
            said.contains("drying") && said.contains("hydrogen chloride"),
            "{said}"
        );
    }

    #[test]
    fn plain_numbers_are_inches_where_inches_are_worked_in() {
        let (end, said) =
            talk("inch\nadaptor\nplate\n1 1/16\n120 mm\n40\n\n\n5/8\nsteel\n#10-24\n6\n3 1/2\n\n");
        assert!(
            said.contains("[35 lbf]") && said.contains("[1/2 NPT]"),
            "{said}"
        );
        let Interview::Done(_, text) = end else {
            panic!("{end:?}\n{said}")
        };
        for line in [
            "barrel_bore = \"1 1/16 in\"",
            "stroke = \"120 mm\"",
            "hand_force = \"40 lbf\"",
            "lever_ratio = 25",
            "thickness = \"5/8 in\"",
            "size = \"#10-24\"",
            "diameter = \"3 1/2 in\"",
            "units = \"inch\"",
        ] {
            assert!(text.contains(line), "{line}\n{text}");
        }
        System::Metric.enter();
    }

    #[test]
    fn an_early_end_gives_nothing() {
        for answers in ["", "1\n", "1\n1\ndisk\nPP\n26\n", "spoon"] {
            assert!(matches!(talk(answers).0, Interview::Ended), "{answers:?}");
        }
        let endless = format!("1\n1\n{}\n", "x".repeat(100_000));
        assert!(matches!(talk(&endless).0, Interview::Ended));
    }
}
