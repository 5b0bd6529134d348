//! The file of first shots beside a parameter file: what the mold did at the machine.
//!
//! Input: its text. Output: [`Shots`], or everything that is wrong with it. Compares nothing (see
//! `process::shots`). The file is the user's: it is read and never written.

use super::codes;
use super::key::{Kind, REQUIRED, Section, length, quantity};
use super::place::{Findings, Place};
use super::read::{one, parsed, text_of};
use super::reader::Table;
use super::section::section;
use super::value::{Value, Word, list, words};
use crate::base::OtherFile;
use crate::base::dimension::Dimension;
use crate::base::{
    Diagnostic, Diagnostics, Force, Given, Length, Opt, Ratio, Span, Temperature, Time,
};
use serde::{Deserialize, Serialize};
use toml::Spanned;
use toml::de::DeValue;

/// How this file is asked for (see [`super::attached::Beside`]): `*` stands for the parameter
/// file's name without its ending.
pub const SHOTS: &str = "*.shots.toml";

/// A first file of shots.
pub const EXAMPLE: &str = "\
[[shot]]
melt = 220          # measured in the melt, °C
mold = 40           # the cavity before the shot, °C
force = 150         # a spring balance on the lever's end, N
time = 2.5          # from the first pull until the lever stands still, s
filled = \"100 %\"   # or how far it came
grams = 21.4        # one part without sprue and runner
sizes = [{ of = \"part.outline.diameter\", measured = 88.2 }]
faults = [\"sinks\"]  # short, flash, sinks, voids, burnt, stuck, warped

[[purge]]           # before any mold is cut: melt pushed out freely
force = 100
grams = 9.5
time = 5
";

/// How melt is pushed out freely, and its cautions.
pub const PURGE_TEST: &str = "Purge test, before any mold is cut: barrel at its temperature for a \
    quarter of an hour, nozzle open and clear, nobody in line with it; face shield, heat-proof gloves, \
    long sleeves, fume drawn off. Let the first charge run out. Then pull with a steady force for some \
    seconds on to a cold metal sheet, let it cool, weigh it: grams and seconds at that force tell the \
    viscosity. Melt that spits is damp or too hot: stop. Never look into the nozzle, never drill or \
    poke a blocked one while it is hot, never close a full, hot barrel. Local codes come first.";

/// Most records of a file.
const MOST: usize = 200;
/// Most sizes of a record.
const MOST_SIZES: usize = 20;

/// What can be wrong with a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Fault {
    /// Not full.
    Short,
    /// Plastic between the halves.
    Flash,
    /// Hollows where it is thick.
    Sinks,
    /// Bubbles inside.
    Voids,
    /// Brown or black.
    Burnt,
    /// Would not come out.
    Stuck,
    /// Bent when cold.
    Warped,
}
words!(Fault {
    "short" => Fault::Short,
    "flash" => Fault::Flash,
    "sinks" => Fault::Sinks,
    "voids" => Fault::Voids,
    "burnt" => Fault::Burnt,
    "stuck" => Fault::Stuck,
    "warped" => Fault::Warped,
});

section! {
    /// A size of a part.
    pub struct SizeSection, "shot.sizes", "A size of the cold part, measured the day after.";
    /// What was measured: a key of the parameter file, or words for the place.
    of: String = Kind::Text(80), REQUIRED, "\"part.outline.diameter\"";
    /// What was read.
    measured: Length = length(0.1, 2000.0), REQUIRED, "88.2";
    /// What it should be.
    nominal: Length = length(0.1, 2000.0), "the value of the key", "90";
}

section! {
    /// `[[shot]]`
    pub struct ShotSection, "shot", "One shot as it was made, and what came of it.";
    /// Melt temperature, measured in the melt.
    melt: Temperature = quantity(Dimension::Temperature, 100.0, 350.0), "as the parameter file", "220";
    /// Temperature of the mold's cavity before the shot.
    mold: Temperature = quantity(Dimension::Temperature, -20.0, 150.0), "as the parameter file", "40";
    /// Force of the hand at the lever's end while the mold filled.
    force: Force = quantity(Dimension::Force, 1.0, 2000.0), "as the parameter file", "150";
    /// Time from the first pull until the lever stood still.
    time: Time = quantity(Dimension::Time, 0.0, 600.0), "not measured", "2.5";
    /// How far the melt came: share of the cavity that is filled.
    filled: Ratio = quantity(Dimension::Ratio, 0.0, 1.0), "100 %, the part was full", "\"80 %\"";
    /// Time that the force was kept after the lever stood still.
    hold: Time = quantity(Dimension::Time, 0.0, 1800.0), "until the way in has frozen", "12";
    /// Mass of one part without sprue and runner, g.
    grams: f64 = quantity(Dimension::Number, 0.01, 10000.0), "not weighed", "21.4";
    /// Sizes of the cold part.
    sizes: Vec<SizeSection> = Kind::Tables(SizeSection::SECTION, MOST_SIZES), "none measured", "[{ of = \"part.outline.diameter\", measured = 88.2 }]";
    /// What was wrong with it: short, flash, sinks, voids, burnt, stuck, warped.
    faults: Vec<Fault> = Kind::Words(<Fault as Word>::NAMES), "none", "[\"sinks\"]";
    /// Revision of the parameter file that the mold was made from, as its card prints it.
    revision: String = Kind::Text(20), "as the parameter file is now", "\"0a1b2c3d\"";
    /// Anything else worth knowing.
    note: String = Kind::Text(200), "nothing", "\"second bag of caps\"";
}

section! {
    /// `[[purge]]`
    pub struct PurgeSection, "purge", "Melt pushed out freely through the nozzle: tells the viscosity before any mold is cut.";
    /// Melt temperature.
    melt: Temperature = quantity(Dimension::Temperature, 100.0, 350.0), "as the parameter file", "220";
    /// Steady force of the hand at the lever's end.
    force: Force = quantity(Dimension::Force, 1.0, 2000.0), "as the parameter file", "100";
    /// Mass that came out, g.
    grams: f64 = quantity(Dimension::Number, 0.01, 10000.0), REQUIRED, "9.5";
    /// In this time.
    time: Time = quantity(Dimension::Time, 0.1, 600.0), REQUIRED, "5";
    /// Anything else worth knowing.
    note: String = Kind::Text(200), "nothing", "\"second bag of caps\"";
}

section! {
    /// `[accuracy]`
    pub struct AccuracySection, "accuracy", "How well things were measured: 95 of 100 readings lie within this to either side.";
    /// Of the melt temperature, in kelvin.
    melt: f64 = quantity(Dimension::Number, 0.1, 50.0), "5 K", "3";
    /// Of the hand's force.
    force: Ratio = quantity(Dimension::Ratio, 0.005, 1.0), "10 %: a spring balance on the lever", "\"20 %\"";
    /// Of a time.
    time: Time = quantity(Dimension::Time, 0.01, 60.0), "0.3 s, a stop-watch", "0.5";
    /// Of the share that is filled.
    filled: Ratio = quantity(Dimension::Ratio, 0.005, 0.5), "5 %", "\"10 %\"";
    /// Of a mass, g.
    grams: f64 = quantity(Dimension::Number, 0.001, 100.0), "0.1 g, a kitchen or letter balance", "0.5";
    /// Of a size.
    size: Length = length(0.001, 5.0), "0.05 mm, a caliper", "0.1";
}

section! {
    /// The sections of the file.
    pub struct ShotsKeys, "", "The first shots of a mold, in NAME.shots.toml beside its parameter file NAME.toml.";
    /// The shots, one after the other.
    shot: Vec<Given<ShotSection>> = Kind::Tables(ShotSection::SECTION, MOST), "none", "[{ force = 150, time = 2.5 }]";
    /// Melt pushed out freely.
    purge: Vec<Given<PurgeSection>> = Kind::Tables(PurgeSection::SECTION, MOST), "none", "[{ force = 100, grams = 9.5, time = 5 }]";
    /// How well it was measured.
    accuracy: AccuracySection = Kind::Table(AccuracySection::SECTION), "usual instruments of a workshop", "{ size = 0.1 }";
}

macro_rules! tables {
    ($($name:ident),*) => {$(
        impl Value for $name {
            fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
                at.table(value, Self::SECTION).map(|t| Self::read(&t))
            }
        }
    )*};
}
tables!(SizeSection, ShotSection, PurgeSection, AccuracySection);

macro_rules! given {
    ($($name:ident),*) => {$(
        impl Value for Given<$name> {
            fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
                $name::read_value(at, value).map(|v| Given::new(v, at.span))
            }
        }
        impl $name {
            fn read_value(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
                <Self as Value>::read(at, value)
            }
        }
        impl Value for Vec<Given<$name>> {
            fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
                list(at, value, 0, MOST)
            }
        }
    )*};
}
given!(ShotSection, PurgeSection);

impl Value for Vec<SizeSection> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        list(at, value, 0, MOST_SIZES)
    }
}

/// The whole file.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct Shots {
    /// `[[shot]]`
    pub shots: Vec<Given<ShotSection>>,
    /// `[[purge]]`
    pub purges: Vec<Given<PurgeSection>>,
    /// `[accuracy]`
    pub accuracy: AccuracySection,
    /// The text it was read from.
    #[serde(skip)]
    pub source: String,
}

impl Shots {
    /// The file as a section: its keys are the sections.
    pub const FILE: &'static Section = ShotsKeys::SECTION;

    /// True when nothing was recorded.
    pub fn is_empty(&self) -> bool {
        self.shots.is_empty() && self.purges.is_empty()
    }
    /// Something wrong with a record, said with the line of this file.
    pub fn fault(
        &self,
        code: &'static str,
        span: Span,
        message: impl Into<String>,
        label: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Diagnostic {
        Diagnostic::new(code, span, message, label, remedy).in_file(OtherFile {
            name: SHOTS.to_owned(),
            text: self.source.clone(),
        })
    }
}

/// Reads a file of shots from its bytes.
///
/// # Errors
/// Everything that is wrong with it; each diagnostic has the text of this file.
pub fn read(bytes: &[u8]) -> Result<Shots, Diagnostics> {
    let text = String::from_utf8_lossy(bytes).into_owned();
    let file = || OtherFile {
        name: SHOTS.to_owned(),
        text: text.clone(),
    };
    shots(bytes).map_err(|all| Diagnostics(all.0.into_iter().map(|d| d.in_file(file())).collect()))
}

fn shots(bytes: &[u8]) -> Result<Shots, Diagnostics> {
    let text = text_of(bytes)?;
    parsed(text, |root, broken| {
        let found = Findings::new(broken.first().map(|d| d.span.start), Shots::FILE);
        let table = Table::open(root, Span::default(), Shots::FILE, String::new(), &found);
        let keys = ShotsKeys::read(&table);
        let shots = Shots {
            shots: keys.shot.map(|g| g.value).unwrap_or_default(),
            purges: keys.purge.map(|g| g.value).unwrap_or_default(),
            accuracy: keys.accuracy.map(|g| g.value).unwrap_or_default(),
            source: text.to_owned(),
        };
        check(&shots, &found);
        (shots, found.into_diagnostics())
    })
    .and_then(|shots| match shots.is_empty() {
        true => Err(one(Diagnostic::new(
            codes::EMPTY_FILE,
            Span::default(),
            "the file has no [[shot]] and no [[purge]]",
            "empty",
            "write [[shot]] and under it what was measured: `force = 150`, `time = 2.5`; or delete the file",
        ))),
        false => Ok(shots),
    })
}

/// What contradicts itself within a record.
fn check(shots: &Shots, found: &Findings) {
    for shot in shots.shots.iter().map(|s| &s.value) {
        let odd = |r: &&Given<String>| {
            r.value.len() != 8 || !r.value.bytes().all(|b| b.is_ascii_hexdigit())
        };
        if let Some(r) = shot.revision.as_ref().filter(odd) {
            found.push(Diagnostic::new(
                codes::OUT_OF_RANGE,
                r.span,
                format!("\"{}\" is no revision", r.value),
                "not eight digits",
                "copy the eight digits from the head of the card that came with the mold, such as \"0a1b2c3d\", or leave the key out",
            ));
        }
        let wet = shot.melt.as_ref().zip(shot.mold.as_ref());
        if let Some((melt, mold)) =
            wet.filter(|(melt, mold)| mold.value.celsius() >= melt.value.celsius())
        {
            found.push(Diagnostic::new(
                codes::OUT_OF_RANGE,
                mold.span,
                "the mold cannot be as warm as the melt",
                "too warm",
                format!(
                    "a melt of {} °C freezes in a mold that is much colder",
                    crate::base::units::number(melt.value.celsius())
                ),
            ));
        }
        let full = shot.filled.as_ref().is_none_or(|f| f.value.value() >= 1.0);
        let said_short = shot
            .faults
            .as_ref()
            .filter(|f| f.value.contains(&Fault::Short));
        if let Some(faults) = said_short.filter(|_| full) {
            found.push(Diagnostic::new(
                codes::KEYS_TOGETHER,
                faults.span,
                "a short part is not full",
                "but `filled` says that it was, or is left out",
                "write how far it came: `filled = \"80 %\"`",
            ));
        }
        let short = shot.filled.as_ref().filter(|f| f.value.value() < 1.0);
        if let (Some(_), Some(sizes)) = (short, &shot.sizes) {
            found.push(Diagnostic::new(
                codes::KEYS_TOGETHER,
                sizes.span,
                "sizes of a part that is not full say nothing of its shrinkage",
                "the part is short",
                "measure a full part, or leave `sizes` out of this record",
            ));
        }
        for time in [&shot.time]
            .into_iter()
            .flatten()
            .filter(|t| t.value.seconds() <= 0.0)
        {
            found.push(Diagnostic::new(
                codes::OUT_OF_RANGE,
                time.span,
                "no mold fills in no time",
                "0 s",
                "leave `time` out where it was not measured",
            ));
        }
    }
}

/// The spans of a record's values, for what reads several.
pub fn span_of<T>(given: &Opt<T>, record: Span) -> Span {
    given.as_ref().map_or(record, |g| g.span)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn records_are_read_with_their_units() {
        let text = "[[shot]]\nforce = \"40 lbf\"\ntime = 2.5\nsizes = [{ of = \"rim\", measured = \"3.5 in\", nominal = 90 }]\n\
                    [[shot]]\nfilled = \"80 %\"\nfaults = [\"short\"]\n[[purge]]\ngrams = 9\ntime = 5\n[accuracy]\nsize = 0.1\n";
        let shots = read(text.as_bytes()).unwrap();
        assert_eq!(shots.shots.len(), 2);
        let first = &shots.shots[0].value;
        assert!((first.force.as_ref().unwrap().value.newtons() - 177.93).abs() < 0.01);
        assert_eq!(
            first.sizes.as_ref().unwrap().value[0]
                .measured
                .as_ref()
                .unwrap()
                .value
                .mm(),
            88.9
        );
        assert_eq!(shots.purges[0].value.grams.as_ref().unwrap().value, 9.0);
    }

    #[test]
    fn records_that_cannot_be_are_refused_with_their_line() {
        for (text, line, code) in [
            ("[[shot]]\ntime = -2\n", 2, codes::OUT_OF_RANGE),
            ("[[shot]]\ntime = 0\n", 2, codes::OUT_OF_RANGE),
            (
                "[[shot]]\nforce = 150\nmelt = 900\n",
                3,
                codes::OUT_OF_RANGE,
            ),
            ("[[shot]]\nmelt = 120\nmold = 130\n", 3, codes::OUT_OF_RANGE),
            ("[[shot]]\nfilled = 1.2\n", 2, codes::OUT_OF_RANGE),
            ("[[shot]]\nfaults = [\"short\"]\n", 2, codes::KEYS_TOGETHER),
            (
                "[[shot]]\nfilled = 0.5\nsizes = [{ of = \"rim\", measured = 3, nominal = 3 }]\n",
                3,
                codes::KEYS_TOGETHER,
            ),
            ("[[shot]]\ntyme = 2\n", 2, codes::UNKNOWN_KEY),
            ("[[purge]]\ngrams = 9\n", 1, codes::MISSING_KEY),
            ("[[shot]]\nfaults = [\"flahs\"]\n", 2, codes::UNKNOWN_WORD),
            ("# nothing\n", 1, codes::EMPTY_FILE),
            ("[accuracy]\nsize = 0.1\n", 1, codes::EMPTY_FILE),
            ("[[shot\n", 1, codes::SYNTAX),
        ] {
            let wrong = read(text.as_bytes()).expect_err(text);
            let d = &wrong.0[0];
            assert_eq!((d.code, d.span.line(text)), (code, line), "{text}: {d:?}");
            assert!(d.other.as_ref().is_some_and(|o| o.text == text));
        }
        assert!(read(&[0xff, 0xfe]).is_err());
    }
}
