//! `mate`: what a nozzle's thread does in a mold's thread, and what to buy instead. Either may
//! be named by a parameter file: its tool's thread, and the nozzle that belongs into it.

use super::args::Common;
use super::beside::beside;
use super::{Ending, complain, paint};
use crate::base::shown;
use crate::base::units::decimals;
use crate::data::pipe::{Bore, PipeFamily, PipeThread};
use crate::data::pipe_fit::{Fit, OutsideThread, Seal, StoppedBy, fit};
use crate::data::welding::PTFE_MAX_C;
use crate::design::{self, Closing, Hints, Leaves, SeatKind, usual_joint};
use crate::pipeline;
use crate::spec::thread;
use serde::Serialize;
use std::io::Write;
use std::path::Path;

/// The whole answer.
#[derive(Debug, Serialize)]
struct Answer {
    #[serde(flatten)]
    fit: Fit,
    /// True when the pair is one that a standard makes.
    standard_pair: bool,
    /// What ends the screwing in, in words.
    ends: String,
    /// Whether and how it seals, in words.
    sealing: String,
    /// Where the nozzle stops in the mold: of the file's design, else of the joint that is tapped
    /// for this thread where nothing else is said.
    joint: Option<Closing>,
    /// What to buy, make or write instead or as well.
    instead: Vec<String>,
    /// Where the numbers come from.
    source: String,
}

pub(super) fn run(nozzle: &str, mold: &str, common: &Common, out: &mut dyn Write) -> Ending {
    let (outside, inside, closing) = match threads(nozzle, mold, common, out) {
        Ok(all) => all,
        Err(ending) => return ending,
    };
    let Some(fit) = fit(&outside, &inside) else {
        return complain(
            "this size is not in the tables; see `platewright tables pipe-threads-iso7`",
        );
    };
    let answer = answer(fit, &outside, &inside, closing);
    let ending = if answer.fit.seal == Seal::None {
        Ending::NotReleased
    } else {
        Ending::Fine
    };
    if common.json {
        super::print_json(&answer, out);
    } else {
        let _ = out.write_all(page(&answer).as_bytes());
    }
    ending
}

/// The nozzle's thread and the mold's, each as written or as a parameter file has it; how the
/// joint closes where the mold is a file.
fn threads(
    nozzle: &str,
    mold: &str,
    common: &Common,
    out: &mut dyn Write,
) -> Result<(OutsideThread, PipeThread, Option<Closing>), Ending> {
    let outside = if is_file(nozzle) {
        OutsideThread::mate_of(&of_file(nozzle, common, out)?.0)
    } else {
        thread::outside(nozzle).map_err(|b| complain(&fault("nozzle", nozzle, &b)))?
    };
    let (inside, closing) = if is_file(mold) {
        let (thread, closing) = of_file(mold, common, out)?;
        (thread, Some(closing))
    } else {
        let thread = thread::designation(mold);
        (
            thread.map_err(|b| complain(&fault("mold", mold, &b)))?,
            None,
        )
    };
    Ok((outside, inside, closing))
}

/// True for the name of a parameter file: no thread is written so.
fn is_file(text: &str) -> bool {
    text.to_ascii_lowercase().ends_with(".toml")
}

/// The thread of the tool that a parameter file describes, and how its joint closes, as its design
/// decides them.
fn of_file(
    name: &str,
    common: &Common,
    out: &mut dyn Write,
) -> Result<(PipeThread, Closing), Ending> {
    let path = Path::new(name);
    let (bytes, stem) = super::load(path)?;
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let design = pipeline::read(&bytes, &beside(path))
        .and_then(|job| {
            job.system().enter();
            design::design(&job, &stem, &Hints::default())
        })
        .map_err(|faults| super::refuse(name, &text, &faults, common, out))?;
    let closing = design.nozzle.closing;
    let thread = design.nozzle.kind.thread().cloned();
    thread.map(|t| (t, closing)).ok_or_else(|| {
        complain(&format!(
            "{name}: its nozzle joint is {}, without a thread; name a tool with a tapped or a welded one",
            match design.nozzle.kind {
                SeatKind::Flange(_) => "a bolted flange",
                _ => "a pressed seat",
            }
        ))
    })
}

fn fault(which: &str, text: &str, b: &thread::BadThread) -> String {
    let shown: String = text.chars().take(40).collect();
    let mut all = format!("{which} thread \"{shown}\": {}; {}", b.why, b.remedy);
    if let Some(instead) = &b.instead {
        all.push_str(&format!("; did you mean \"{instead}\"?"));
    }
    all
}

fn answer(
    fit: Fit,
    outside: &OutsideThread,
    inside: &PipeThread,
    closing: Option<Closing>,
) -> Answer {
    let same_size = outside.size == inside.size;
    let ends = match fit.stopped_by {
        StoppedBy::Length => "it goes in to the end of the useful thread",
        StoppedBy::Flanks if fit.seal == Seal::Thread => {
            "the taper is tight on its flanks, as the standard means it"
        }
        StoppedBy::Flanks => "the flanks are tight at one end only",
        StoppedBy::Crest => "the crest of the nozzle's thread jams in the root of the mold's",
        StoppedBy::Root => "the crest of the mold's thread jams in the root of the nozzle's",
        StoppedBy::PitchOrAngle => "pitch or angle differ: the flanks wedge",
        StoppedBy::Loose => "the nozzle is too small: nothing holds it",
    };
    let ends = if fit.engaged == 0.0 && fit.stopped_by != StoppedBy::Loose {
        "it does not start: the nozzle is as large as the hole or larger".to_owned()
    } else {
        ends.to_owned()
    };
    let sealing = match fit.seal {
        Seal::Thread => format!(
            "seals in the thread, with a sealant: after hand tight one to two turns more by wrench (common practice, no source); PTFE tape only up to {ptfe_max_c}",
            ptfe_max_c = shown::quantity(shown::Kind::Temperature, PTFE_MAX_C, 4)
        ),
        Seal::Face => {
            "does not seal in the thread (ISO 228-1 scope): on a flat face or a soft copper ring"
                .into()
        }
        Seal::None if !same_size => "does not seal: the sizes differ".into(),
        Seal::None if outside.standard() == inside.family.standard() => {
            "does not seal: no standard makes this pair".into()
        }
        Seal::None => format!(
            "does not seal: {} and {} are different families; melt under pressure gets out, and forced threads strip when they are taken off hot",
            outside.standard(),
            inside.family.standard()
        ),
    };
    Answer {
        standard_pair: fit.seal != Seal::None,
        joint: closing
            .or_else(|| Some(usual_joint(inside)?.closing(0.0)))
            .filter(|_| fit.seal != Seal::None),
        instead: instead(&fit, outside, inside),
        ends,
        sealing,
        source: format!(
            "basic sizes of {} and {}; diameter equivalents of pitch and angle errors: thread-gauging practice, from memory. Worn or cheap fittings differ: try yours",
            outside.standard(),
            inside.family.standard()
        ),
        fit,
    }
}

/// The internal threads that take an external one.
fn takers(outside: &OutsideThread) -> Vec<PipeThread> {
    PipeFamily::ALL
        .into_iter()
        .map(|family| PipeThread {
            family,
            size: outside.size.clone(),
        })
        .filter(|t| OutsideThread::mate_of(t) == *outside)
        .collect()
}

fn instead(fit: &Fit, outside: &OutsideThread, inside: &PipeThread) -> Vec<String> {
    let mut all = Vec::new();
    match fit.seal {
        Seal::Thread => {}
        Seal::Face => all.push(format!(
            "it is made tight by a soft copper ring for {} (DIN 7603) under the collar, or by nozzle end and floor faced flat: one of them, not both",
            outside.designation()
        )),
        Seal::None => {
            for t in takers(outside) {
                let drill = t.tap_drill(Bore::Long).map_or(String::new(), |d| {
                    format!(
                        ", tap drill {}",
                        shown::size(d.usable_mm())
                    )
                });
                all.push(format!(
                    "mold not made yet: nozzle.thread = \"{}\"{drill}",
                    t.designation()
                ));
            }
            let mate = OutsideThread::mate_of(inside);
            all.push(format!(
                "mold made already: a nozzle end {} (plain steel, not galvanised)",
                mate.designation()
            ));
            if let Some(socket) = takers(outside).first() {
                all.push(format!(
                    "or a steel adaptor between them, turned: {} inside to {} outside; a longer way for the melt, keep it hot",
                    socket.designation(),
                    mate.designation()
                ));
                all.push(format!(
                    "the lines of its file (starter: platewright new reducer): {}",
                    reducer_lines(socket, inside).join("; ")
                ));
            }
        }
    }
    all
}

/// The parameter file of a turned adaptor from the nozzle's thread to the mold's, a key a line.
fn reducer_lines(socket: &PipeThread, inside: &PipeThread) -> [String; 3] {
    [
        "job.kind = \"reducer\"".to_owned(),
        format!("nozzle.thread = \"{}\"", socket.designation()),
        format!(
            "reducer.outlet = {{ end = \"male\", thread = \"{}\" }}",
            inside.designation()
        ),
    ]
}

fn page(a: &Answer) -> String {
    let f = &a.fit;
    let mut page = format!(
        "{}{} in {}{:#}\n",
        paint::HEAD,
        f.outside,
        f.inside,
        paint::HEAD
    );
    let mut line = |name: &str, words: &str| {
        for (i, part) in paint::wrap(words, 76).iter().enumerate() {
            let head = if i == 0 { name } else { "" };
            page.push_str(&format!("  {head:<13}{part}\n"));
        }
    };
    line(
        "by hand",
        &format!(
            "{}, {} turns; {}",
            shown::length(f.engaged, 1),
            decimals(f.turns, 1),
            a.ends
        ),
    );
    line("seal", &a.sealing);
    let form = |i: usize| {
        format!(
            "pitch {}, {}°, {}",
            shown::length(f.pitch[i], 3),
            decimals(f.angle[i], 0),
            if f.taper[i] > 0.0 {
                "taper 1:16"
            } else {
                "parallel"
            }
        )
    };
    if let Some(c) = &a.joint {
        line("in the mold", &joint_words(c));
    }
    line("nozzle", &form(0));
    line("mold", &form(1));
    for (i, words) in a.instead.iter().enumerate() {
        line(if i == 0 { "instead" } else { "" }, words);
    }
    line("source", &a.source);
    line(
        "caution",
        "hot melt under pressure burns: no joint is tried out with people in line with it",
    );
    page
}

/// Where it stops, how deep, what stays.
fn joint_words(c: &Closing) -> String {
    let mut all = format!("stopped by: {}", c.stop.words());
    if let Some(reach) = c.reach {
        all.push_str(&format!(
            "; its end stands {} below the face",
            shown::length(reach, 2)
        ));
    }
    if let Some(tip) = c.tip {
        all.push_str(&format!(
            ", with a plain tip ø{} × {}",
            shown::bare_length(tip.dia, 2),
            shown::length(tip.length, 1)
        ));
    }
    all.push_str(&match c.dead.leaves {
        Leaves::Nothing => "; nothing stays in front of it".to_owned(),
        leaves => format!(
            "; {} in front of it {}",
            shown::quantity(shown::Kind::Volume, c.dead.volume, 3),
            match leaves {
                Leaves::WithSprue => "leave with the sprue",
                Leaves::WithNozzle => "come away with the nozzle",
                _ => "stay",
            }
        ),
    });
    all
}

#[cfg(test)]
mod tests {
    use super::super::args::Arguments;
    use super::*;

    #[test]
    fn a_stranger_is_told_what_to_buy() {
        let o = thread::outside("1/2 NPT").unwrap();
        let i = thread::designation("G 1/2").unwrap();
        let a = answer(fit(&o, &i).unwrap(), &o, &i, None);
        assert!(!a.standard_pair);
        // The NPT drill of 1/2 is 23/32 in, 18.26 mm (toolsnz.com table).
        assert!(a.instead[0].contains("18.26"), "{:?}", a.instead);
        assert!(a.instead[1].contains("nozzle end G 1/2"));
        let text = page(&a);
        assert!(text.contains("3.8 mm, 2.1 turns"), "{text}");
    }

    #[test]
    fn the_adaptor_between_strangers_can_be_made() {
        for (nozzle, mold) in [("1/2 NPT", "G 1/2"), ("R 1/2", "G 3/4"), ("G 1", "3/4 NPT")] {
            let (o, i) = (
                thread::outside(nozzle).unwrap(),
                thread::designation(mold).unwrap(),
            );
            let a = answer(fit(&o, &i).unwrap(), &o, &i, None);
            let lines = reducer_lines(takers(&o).first().unwrap(), &i);
            assert!(
                a.instead.iter().any(|w| w.contains(&lines[2])),
                "{:?}",
                a.instead
            );
            let job = pipeline::read(lines.join("\n").as_bytes(), &|_| Err("none".into()));
            let design = design::design(&job.unwrap(), "reducer", &Hints::default()).unwrap();
            // It takes the nozzle at one end and goes into the mold at the other.
            let takes = design.nozzle.kind.thread().map(OutsideThread::mate_of);
            assert_eq!(takes.as_ref(), Some(&o));
            assert_eq!(design.outlet.unwrap().thread(), Some(&i));
        }
    }

    #[test]
    fn a_parameter_file_stands_for_its_thread() {
        let folder = std::env::temp_dir().join(format!("platewright-mate-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let file = folder.join("plate.toml");
        let text = "[job]\nkind = \"adaptor\"\n[nozzle]\nthread = \"Rc 3/8\"\n[adaptor]\nbore = 8\npattern = { pattern = \"circle\", count = 4, diameter = 60 }\n";
        std::fs::write(&file, text).unwrap();
        let name = file.to_string_lossy().into_owned();
        let common = <Arguments as clap::Parser>::parse_from(["platewright"]).common;
        let mut out = Vec::new();
        let thread = of_file(&name, &common, &mut out);
        // As the mold, and as the nozzle that belongs into it.
        let text = |nozzle: &str, mold: &str| {
            let mut out = Vec::new();
            let ending = run(nozzle, mold, &common, &mut out);
            (ending, String::from_utf8(out).unwrap())
        };
        let (a, by_file) = text("R 3/8", &name);
        let (b, by_name) = text("R 3/8", "Rc 3/8");
        let (c, as_nozzle) = text(&name, "Rc 3/8");
        std::fs::remove_dir_all(&folder).unwrap();
        assert_eq!(
            thread.map(|t| t.0.designation()).ok().as_deref(),
            Some("Rc 3/8")
        );
        assert!(by_name.contains("R 3/8 in Rc 3/8"), "{by_name}");
        assert_eq!((a, &by_file), (b, &by_name));
        assert_eq!((c, &as_nozzle), (b, &by_name));
    }

    #[test]
    fn an_r_thread_has_two_takers() {
        let o = thread::outside("R 3/4").unwrap();
        let names: Vec<String> = takers(&o).iter().map(PipeThread::designation).collect();
        assert_eq!(names, ["Rp 3/4", "Rc 3/4"]);
    }
}
