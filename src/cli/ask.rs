//! `new --ask`: a short interview that ends in a commented parameter file.
//!
//! Input: answers, from a terminal, a pipe, or a page that keeps those given so far. Output: the
//! file's text. Each answer is held against the key's own definition, so that what is refused
//! here is what the file would be refused for. Writes nothing itself.

use crate::base::dimension::Dimension;
use crate::base::quantity;
use crate::base::slug::slug;
use crate::base::units::number;
use crate::base::{Diagnostic, Diagnostics};
use crate::data::plastics::{self, Marked};
use crate::design::{self, Hints};
use crate::live::Question;
use crate::pipeline;
use crate::spec::attached::{Beside, MESH_FILES};
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
const MAKES: [(&str, &str); 5] = [
    ("round", "a round part, one thickness: coaster, lid, button"),
    ("rectangle", "a rectangular part, one thickness: tag, tile"),
    ("drawing", "a flat part whose outline is an SVG or DXF file"),
    ("mesh", "a part from an STL, OBJ or 3MF file"),
    ("adaptor", "a nozzle adaptor plate for the machine"),
];

/// What the part's file is, where the interview begins with one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Given<'a> {
    /// Its name, beside the parameter file to be.
    pub file: &'a str,
}

impl Given<'_> {
    fn make(self) -> &'static str {
        let ending = self.file.rsplit('.').next().unwrap_or_default();
        match MESH_FILES.contains(&ending.to_ascii_lowercase().as_str()) {
            true => "mesh",
            false => "drawing",
        }
    }
    /// What the job may be called: the file's name without its ending.
    fn name(self) -> String {
        let stem = self.file.rsplit_once('.').map_or(self.file, |(s, _)| s);
        slug(stem)
    }
}

/// What is known before the first question.
pub(super) struct Before<'a> {
    /// The file that the part comes from.
    pub given: Option<Given<'a>>,
    /// Reads files beside the parameter file to be.
    pub beside: &'a Beside<'a>,
    /// Why a name cannot be taken; a sentence.
    pub taken: &'a dyn Fn(&str) -> Option<String>,
}

/// Units of answers and of everything that is written.
const UNITS: [(&str, &str); 2] = [
    ("metric", "millimetres, newtons, °C"),
    ("inch", "inches, pounds, °F; 1/4-20 screws, Letter paper"),
];

/// Longest answer that is looked at, bytes.
const LONGEST: u64 = 500;

struct Talk<'a> {
    who: &'a mut dyn Answers,
    before: &'a Before<'a>,
    text: String,
    /// What an answer without a unit means.
    units: Units,
}

/// There are no more answers.
pub(super) struct Ended;

impl From<io::Error> for Ended {
    fn from(_: io::Error) -> Self {
        Ended
    }
}

/// Somebody who is asked.
pub(super) trait Answers {
    /// Tells something, such as what is wrong with the last answer: whole lines.
    fn tell(&mut self, text: &str) -> Result<(), Ended>;
    /// The answer to a question, trimmed; nothing for the usual one. `again`: it was asked before.
    fn answer(&mut self, question: &Question, again: bool) -> Result<String, Ended>;
}

/// Lines from a terminal or a pipe.
pub(super) struct Lines<'a> {
    /// Where they come from.
    pub input: &'a mut dyn BufRead,
    /// Where the questions go.
    pub out: &'a mut dyn Write,
}

impl Answers for Lines<'_> {
    fn tell(&mut self, text: &str) -> Result<(), Ended> {
        self.out.write_all(text.as_bytes())?;
        self.out.flush()?;
        Ok(())
    }

    fn answer(&mut self, question: &Question, again: bool) -> Result<String, Ended> {
        let mut text = String::new();
        if question.words.is_empty() {
            text = format!("{} [{}] ", question.ask, question.usual);
        } else {
            if !again {
                text = format!("{}\n", question.ask);
                for (i, (word, about)) in question.words.iter().enumerate() {
                    text.push_str(&format!("  {} {word:<10} {about}\n", i + 1));
                }
            }
            text.push_str("[1] ");
        }
        self.tell(&text)?;
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
}

/// Answers that are there already; where they end, the question that is open.
pub(super) struct Kept<'a> {
    left: &'a [String],
    /// The question that none of them answers, with what was told since the last answer.
    pub open: Option<Question>,
    told: String,
}

impl<'a> Kept<'a> {
    /// Answers in their order.
    pub(super) fn of(left: &'a [String]) -> Self {
        Self {
            left,
            open: None,
            told: String::new(),
        }
    }
}

impl Answers for Kept<'_> {
    fn tell(&mut self, text: &str) -> Result<(), Ended> {
        self.told.push_str(text.trim());
        self.told.push(' ');
        Ok(())
    }

    fn answer(&mut self, question: &Question, _: bool) -> Result<String, Ended> {
        let Some((answer, left)) = self.left.split_first() else {
            self.open = Some(Question {
                said: self.told.trim().to_owned(),
                ..question.clone()
            });
            return Err(Ended);
        };
        self.left = left;
        self.told.clear();
        let most = LONGEST as usize;
        Ok(answer.trim().chars().take(most).collect())
    }
}

/// Asks, until everything is known.
pub(super) fn interview(who: &mut dyn Answers, before: &Before<'_>) -> Interview {
    let mut talk = Talk {
        who,
        before,
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
    let designed = pipeline::read(text.as_bytes(), before.beside).and_then(|job| {
        job.system().enter();
        design::design(&job, &name, &Hints::default())
    });
    match designed {
        Ok(_) => Interview::Done(name, text),
        Err(faults) => Interview::Apart(text, faults),
    }
}

fn all(t: &mut Talk<'_>) -> Result<String, Ended> {
    if t.choose("Which units do you work in?", &UNITS)? == "inch" {
        t.units = Units::Inch;
    }
    t.units.system().enter();
    let given = t.before.given;
    let make = match given {
        Some(given) => given.make(),
        None => t.choose("What will you make?", &MAKES)?,
    };
    t.section("job");
    let usual = given.map_or_else(|| make.to_owned(), Given::name);
    let name = t.name("What is it called (folder name)?", &usual)?;
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

/// What leaves a size as it is in the drawing.
const AS_DRAWN: &str = "as drawn";

fn mesh(t: &mut Talk<'_>) -> Result<(), Ended> {
    t.section("part.mesh");
    let file = t.file(
        "part.mesh.file",
        "Which file (STL, OBJ or 3MF, beside this one)?",
    )?;
    if file.to_ascii_lowercase().ends_with(".3mf") {
        // It says itself.
        return Ok(());
    }
    t.value(
        "part.mesh.unit",
        "Unit of its numbers (mm, cm, m, in)?",
        t.usual("mm", "in"),
    )?;
    Ok(())
}

fn part(t: &mut Talk<'_>, make: &str) -> Result<(), Ended> {
    if make == "mesh" {
        return mesh(t);
    }
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
    if make == "drawing" {
        t.line(
            "round = true",
            sections::find("part.round").map_or("", |k| k.doc),
        );
    }
    t.section("part.outline");
    if make == "drawing" {
        t.line(
            "shape = \"file\"",
            "filled shapes of an SVG, or closed outlines of a DXF",
        );
        t.file(
            "part.outline.file",
            "Which drawing (SVG or DXF, beside this file)?",
        )?;
        t.value_or("part.outline.width", "How wide is the part?", AS_DRAWN)?;
    } else if make == "round" {
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
        self.who.tell(text)
    }

    fn choose<'w>(&mut self, ask: &str, words: &'w [(&'w str, &str)]) -> Result<&'w str, Ended> {
        let owned = |(word, about): &(&str, &str)| ((*word).to_owned(), (*about).to_owned());
        let question = Question {
            ask: ask.to_owned(),
            usual: words[0].0.to_owned(),
            words: words.iter().map(owned).collect(),
            said: String::new(),
        };
        let mut again = false;
        loop {
            let answer = self.who.answer(&question, again)?;
            again = true;
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
        let question = Question {
            ask: ask.to_owned(),
            usual: usual.to_owned(),
            words: Vec::new(),
            said: String::new(),
        };
        let answer = self.who.answer(&question, false)?;
        Ok(if answer.is_empty() {
            usual.to_owned()
        } else {
            answer
        })
    }

    /// The name of the job: one that nothing has yet.
    fn name(&mut self, ask: &str, usual: &str) -> Result<String, Ended> {
        loop {
            let name = self.ask(ask, usual)?;
            match (self.before.taken)(&name) {
                Some(why) => self.say(&format!("  {why}\n"))?,
                None if self.write("job.name", &name)? => return Ok(name),
                None => {}
            }
        }
    }

    /// The name of a file that is there and can be read.
    fn file(&mut self, path: &str, ask: &str) -> Result<String, Ended> {
        if let Some(given) = self.before.given
            && self.write(path, given.file)?
        {
            return Ok(given.file.to_owned());
        }
        loop {
            let name = self.ask(ask, "")?;
            match (self.before.beside)(&name) {
                Err(why) => self.say(&format!("  {name} {why}\n"))?,
                Ok(_) if self.write(path, &name)? => return Ok(name),
                Ok(_) => {}
            }
        }
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

    /// The same, with an answer that leaves the key out.
    fn value_or(&mut self, path: &str, ask: &str, none: &str) -> Result<(), Ended> {
        loop {
            let answer = self.ask(ask, none)?;
            if answer == none || self.write(path, &answer)? {
                return Ok(());
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

    const BIRD: &[u8] =
        b"<svg xmlns='http://www.w3.org/2000/svg' width='50mm' height='40mm' viewBox='0 0 50 40'>\
        <path d='M5 5H45V35H5Z'/></svg>";

    fn talk(answers: &str) -> (Interview, String) {
        let mut out = Vec::new();
        let mut lines = Lines {
            input: &mut answers.as_bytes(),
            out: &mut out,
        };
        let before = Before {
            given: None,
            beside: &|name| match name {
                "bird.svg" => Ok(BIRD.to_vec()),
                _ => Err("is not there".into()),
            },
            taken: &|_| None,
        };
        let end = interview(&mut lines, &before);
        (end, String::from_utf8(out).expect("text"))
    }

    #[test]
    fn return_alone_gives_files_that_can_be_made() {
        let makes = ["1", "2", "5", "round", "Rectangle", "adaptor", ""];
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
    fn a_drawing_beside_is_asked_for_until_it_is_there() {
        let (end, said) = talk(&format!(
            "\ndrawing\nbird\n{}fish.svg\nbird.svg\n40\n\n",
            "\n".repeat(9)
        ));
        let Interview::Done(_, text) = end else {
            panic!("{end:?}\n{said}")
        };
        assert!(said.contains("fish.svg is not there"), "{said}");
        for line in ["file = \"bird.svg\"", "width = 40", "round = true"] {
            assert!(text.contains(line), "{line}\n{text}");
        }
    }

    #[test]
    fn answers_that_are_kept_lead_to_the_open_question() {
        let before = Before {
            given: Some(Given {
                file: "Big Bird.svg",
            }),
            beside: &|_| Ok(BIRD.to_vec()),
            taken: &|name| (name == "big-bird").then(|| "it exists".to_owned()),
        };
        let mut answers: Vec<String> = Vec::new();
        let mut asked = Vec::new();
        let (name, text) = loop {
            let mut kept = Kept::of(&answers);
            match interview(&mut kept, &before) {
                Interview::Done(name, text) => break (name, text),
                Interview::Ended => {
                    let open = kept.open.expect("a question");
                    // The name that is offered exists.
                    let twice = !open.said.is_empty();
                    answers.push(if twice { "bird" } else { "" }.to_owned());
                    asked.push(open);
                }
                Interview::Apart(text, faults) => panic!("{faults}\n{text}"),
            }
        };
        assert_eq!(name, "bird");
        assert!(text.contains("file = \"Big Bird.svg\""), "{text}");
        assert_eq!(asked[0].words[0].0, "metric");
        assert_eq!(
            (asked[1].usual.as_str(), asked[2].said.as_str()),
            ("big-bird", "it exists")
        );
        assert!(asked.iter().all(|q| !q.ask.contains("Which drawing")));
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
