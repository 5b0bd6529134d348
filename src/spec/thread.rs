//! Pipe thread designations: "G 1/2", "Rc 3/8", "1/2 NPT".
//!
//! Input: text. Output: a [`PipeThread`] or what is wrong and what would be right.
//! Knows no dimensions and no sizes (see `data`).

use super::codes;
use super::key::Kind;
use super::place::Place;
use super::value::Value;
use crate::data::pipe_fit::OutsideThread;
use crate::data::{PipeFamily, PipeThread};
use toml::Spanned;
use toml::de::DeValue;

/// What is wrong with a designation: why, what to do, and the right text where it is certain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadThread {
    /// What is wrong.
    pub why: String,
    /// What would be right.
    pub remedy: String,
    /// The designation that was surely meant.
    pub instead: Option<String>,
}

fn bad(why: impl Into<String>, remedy: impl Into<String>, instead: Option<String>) -> BadThread {
    BadThread {
        why: why.into(),
        remedy: remedy.into(),
        instead,
    }
}

const FORM: &str =
    "write the family and the nominal size: \"G 1/2\", \"Rp 1/2\", \"Rc 1/2\" or \"1/2 NPT\"";

/// Reads a designation; case and spaces do not matter, the family may stand behind.
///
/// # Errors
/// When it is none, with what would be right.
pub fn designation(text: &str) -> Result<PipeThread, BadThread> {
    if text.chars().count() > 40 {
        return Err(bad("too long for a thread", FORM, None));
    }
    PipeThread::parse(text).ok_or_else(|| fault(text))
}

const OUTSIDE_FORM: &str =
    "write the external thread of the nozzle: \"G 1/2\", \"R 1/2\" or \"1/2 NPT\"";

/// Reads the designation of an external thread: "R 1/2".
///
/// # Errors
/// When it is none, with what would be right.
pub fn outside(text: &str) -> Result<OutsideThread, BadThread> {
    if text.chars().count() > 40 {
        return Err(bad("too long for a thread", OUTSIDE_FORM, None));
    }
    OutsideThread::parse(text).ok_or_else(|| {
        let letters: String = text.chars().filter(|c| c.is_alphabetic()).collect();
        let shown = size_of(text).unwrap_or_else(|| "1/2".into());
        match letters.to_uppercase().as_str() {
            "RP" | "RC" => bad(
                format!("{letters} is an internal thread"),
                "a nozzle that goes into it has",
                Some(format!("R {shown}")),
            ),
            "BSPT" => bad(
                "BSPT is the trade name of the taper thread R",
                OUTSIDE_FORM,
                Some(format!("R {shown}")),
            ),
            "R" => {
                let sizes: Vec<&str> = crate::data::pipe::sizes().collect();
                bad(
                    "no such nominal size",
                    format!("nominal sizes: {}", sizes.join(", ")),
                    None,
                )
            }
            _ => BadThread {
                remedy: OUTSIDE_FORM.into(),
                ..fault(text)
            },
        }
    })
}

/// What is wrong with a text that is no designation.
fn fault(text: &str) -> BadThread {
    let letters: String = text
        .chars()
        .filter(|c| c.is_alphabetic())
        .collect::<String>()
        .to_uppercase();
    let size = size_of(text);
    let shown = size.clone().unwrap_or_else(|| "1/2".into());
    match letters.as_str() {
        l if family_of(l).is_some() => {
            let sizes: Vec<&str> = crate::data::pipe::sizes().collect();
            let sizes = format!("nominal sizes: {}", sizes.join(", "));
            match size {
                Some(size) if sizes_hold(&size) => bad(
                    "the threads per inch do not belong to this size",
                    format!("leave them out: \"{size} {letters}\""),
                    None,
                ),
                Some(size) => bad(format!("there is no nominal size {size}"), sizes, None),
                None => bad("the nominal size is missing", sizes, None),
            }
        }
        "BSPP" => bad(
            "BSPP is the trade name of the parallel thread G",
            "write the standard's designation",
            Some(format!("G {shown}")),
        ),
        "R" | "BSPT" => bad(
            "R is the tapered thread of the male fitting; the hole that takes it is Rc or Rp",
            format!(
                "write \"Rc {shown}\" (taper hole) or \"Rp {shown}\" (parallel hole); both seal in the thread"
            ),
            None,
        ),
        "BSP" => bad(
            "BSP is two families",
            format!(
                "write \"G {shown}\" (parallel, seals on a face) or \"Rc {shown}\" (taper, seals in the thread)"
            ),
            None,
        ),
        "" | "IN" | "MM" => bad("a thread needs its family", FORM, None),
        "NPS" | "NPSM" | "NPTF" | "UNF" | "UNC" => bad(
            format!("{letters} is not among the families that can be cut here"),
            FORM,
            None,
        ),
        l if l.starts_with('M') => bad(
            "a metric thread is no pipe thread",
            format!("the nozzle is a pipe fitting; {FORM}"),
            None,
        ),
        l => {
            let near = super::suggest::closest(l, PipeFamily::ALL.map(PipeFamily::letters));
            let near = near.and_then(|w| family_of(&w.0.to_uppercase()));
            let instead = near.filter(|_| size.is_some() && l.len() > 1).map(|f| {
                let letters = f.letters();
                match f.row().letters_last {
                    true => format!("{shown} {letters}"),
                    false => format!("{letters} {shown}"),
                }
            });
            let family: String = letters.chars().take(12).collect();
            bad(format!("unknown thread family \"{family}\""), FORM, instead)
        }
    }
}

/// The family of these letters, written large.
fn family_of(letters: &str) -> Option<PipeFamily> {
    let all = PipeFamily::ALL.into_iter();
    all.into_iter()
        .find(|f| f.letters().eq_ignore_ascii_case(letters))
}

fn sizes_hold(size: &str) -> bool {
    crate::data::pipe::sizes().any(|s| s == size)
}

/// The size without letters, spaces made single: "1 1/2". A thread count ("1/2-14 NPT") is dropped.
fn size_of(text: &str) -> Option<String> {
    let digits: String = text
        .chars()
        .map(|c| {
            if c.is_ascii_digit() || matches!(c, '/' | '.' | '-' | ',') {
                c
            } else {
                ' '
            }
        })
        .collect();
    let mut words: Vec<&str> = digits.split_whitespace().collect();
    if let Some(first) = words.first_mut()
        && let Some((size, pitch)) = first.split_once('-')
    {
        // "1/2-14" is size and threads per inch; "1-1/2" is a whole and a fraction.
        if pitch.contains('/') {
            let whole = size;
            return Some(format!("{whole} {pitch}"));
        }
        *first = size;
    }
    let joined = words.join(" ");
    (!joined.is_empty()).then_some(joined)
}

impl Value for PipeThread {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        debug_assert!(matches!(at.key.kind, Kind::PipeThread));
        let DeValue::String(text) = value.get_ref() else {
            return at.wrong_type(value.get_ref(), "a pipe thread in quotes");
        };
        match designation(text) {
            Ok(thread) => Some(thread),
            Err(b) => {
                let shown: String = text.chars().take(40).collect();
                let mut d = at.wrong(
                    codes::BAD_THREAD,
                    format!("`{}`: \"{shown}\" is no pipe thread of a nozzle", at.path),
                    b.why,
                    b.remedy,
                );
                if let Some(text) = b.instead {
                    d = d.replace_with(format!("\"{text}\""));
                }
                at.found.push(d);
                None
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn designations_as_people_write_them() {
        for (text, shown) in [
            ("G 1/2", "G 1/2"),
            ("g1/2", "G 1/2"),
            ("Rc 3/8", "Rc 3/8"),
            ("NPT 1/2", "1/2-14 NPT"),
            ("1/2-14 NPT", "1/2-14 NPT"),
            ("Rp 1 1/4", "Rp 1 1/4"),
            ("G 1", "G 1"),
        ] {
            assert_eq!(designation(text).unwrap().designation(), shown);
        }
        for (text, why) in [
            ("R 1/2", "male fitting"),
            ("BSP 1/2", "two families"),
            ("1/2 BSPP", "trade name"),
            ("M20", "metric"),
            ("1/2", "family"),
            ("G 5/16", "no nominal size 5/16"),
            ("G", "size is missing"),
            ("1/2-18 NPT", "threads per inch"),
            ("Q 1/2", "unknown thread family"),
            ("", "family"),
        ] {
            let fault = designation(text).unwrap_err();
            assert!(fault.why.contains(why), "{text}: {}", fault.why);
        }
    }
}
