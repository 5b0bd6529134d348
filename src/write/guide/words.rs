//! The guide's own words: measuring, first steps, changing, glossary.

use crate::base::System;
use crate::spec::sections;
use crate::write::markup::escape;

/// What to measure, and how; the meaning stands in the key's definition.
const MEASURES: [(&str, &str); 13] = [
    (
        "machine.barrel_bore",
        "an inside caliper or a telescopic gauge in the cold, clean barrel; or the plunger's diameter plus its play",
    ),
    (
        "machine.stroke",
        "push the plunger from full up to where it stops, and measure the way of its face",
    ),
    (
        "machine.hand_force",
        "hang a luggage scale on the lever's end and pull as hard as you would a hundred times a day; not as hard as you can",
    ),
    (
        "machine.lever_ratio",
        "move the hand's end by {WAY} along its arc and measure how far the plunger goes; the quotient, in the middle of the way",
    ),
    (
        "machine.efficiency",
        "leave it out, unless you have measured the force at the plunger with a scale",
    ),
    (
        "machine.swing",
        "turn a stick about the nozzle's axis until it hits frame or bench; twice the free length",
    ),
    (
        "nozzle.thread",
        "as above; it is the thread in the mold that takes the nozzle",
    ),
    (
        "nozzle.orifice",
        "the shank of the largest drill that goes into the nozzle's bore by hand",
    ),
    (
        "plastic.kind",
        "the recycling mark on the scrap; unknown plastic and mark 3 (PVC) are never melted",
    ),
    (
        "shop.machines",
        "what stands in the shop, and which services you send drawings to",
    ),
    (
        "shop.end_mills",
        "the diameters in the drawer, measured, not as printed",
    ),
    ("shop.drills", "leave it out if you buy what is missing"),
    (
        "shop.spindle_max",
        "the plate on the drill press or the table under its lid",
    ),
];

pub(super) fn measuring() -> String {
    let way = match System::current() {
        System::Metric => "500 mm",
        System::Inch => "20 in",
    };
    let rows: String = MEASURES
        .iter()
        .map(|(key, how)| {
            let doc = sections::find(key).map_or("", |k| k.doc);
            format!(
                "<tr><th scope=\"row\"><code>{key}</code></th><td>{}</td><td>{}</td></tr>\n",
                escape(doc),
                escape(&how.replace("{WAY}", way))
            )
        })
        .collect();
    format!(
        "<p>Six numbers are enough for a first computation: bore, stroke, force and ratio of the machine, thread and orifice of the nozzle. \
         Measure cold. The ways of measuring are common practice, no source.</p>\n\
         <table>\n<thead><tr><th scope=\"col\">key</th><th scope=\"col\">what it is</th><th scope=\"col\">how to measure</th></tr></thead>\n<tbody>{rows}</tbody></table>\n"
    )
}

pub(super) fn first_steps(text: &str) -> String {
    format!(
        "<ol>\n\
         <li><b>Begin with a starter file</b>: <code>platewright new coaster my.toml</code>, or let yourself be asked: <code>platewright new --ask my.toml</code>.</li>\n\
         <li><b>Put your machine in</b>: the section <code>[machine]</code> and the thread under <code>[nozzle]</code>, with your own measures.</li>\n\
         <li><b>Look while you change it</b>: <code>platewright live my.toml</code> and open the address that it prints. Picture and verdict stand on the left and on top, findings and numbers beside them. Without a file it lists those of the folder, and makes new ones of your answers or of a drawing that you drop on the page.</li>\n\
         <li><b>Cure the findings</b>, the stops first. Try a button; if the verdict suits you, write it into the file.</li>\n\
         <li><b>Make the package</b>: <code>platewright make my.toml</code>.</li>\n\
         <li><b>Read the report</b> to its end, then the machining sheet. Is every hole where the screws of your bench can be reached?</li>\n\
         <li><b>Check the paper</b>: print one sheet of the templates and measure its rulers, before you punch through it.</li>\n\
         <li><b>Cut the plates</b>, operation by operation, and measure what the sheet asks for.</li>\n\
         <li><b>Screw the mold together without melt</b>: do the halves close all round, does the nozzle reach its stop, does it come off again?</li>\n\
         <li><b>The first shots</b> as the process card says, with shield, sleeves and gloves, beside the nozzle and never in front of it. Weigh the first parts and write the weights on the first-piece form.</li>\n\
         </ol>\n<p>The starter file of the coaster:</p>\n<pre tabindex=\"0\">{}</pre>\n",
        escape(text)
    )
}

pub(super) fn changing() -> &'static str {
    "<p>On the live page what you move is on trial; beside it stands what it does to metal, time and fill. A decided value can be kept, and let go again. \
     <code>platewright make</code> says what differs from the package that was there, <code>platewright compare A B</code> shows two files or packages together, \
     <code>platewright study my.toml --vary part.thickness=2..5:7</code> sweeps a number over a range, <code>--vary plastic.kind=PP,HDPE</code> a word.</p>\n"
}

/// Word and meaning. Common use of the trade, no source.
const GLOSSARY: [(&str, &str); 36] = [
    ("A plate", "the half at the nozzle"),
    (
        "air trap",
        "air that the melt closes in; it leaves a hole or a burn",
    ),
    ("B plate", "the half that moves away when the mold opens"),
    ("barrel", "the heated tube in which plastic melts"),
    ("boss", "a raised round place on a part, often for a screw"),
    ("cavity", "the hollow that becomes the part"),
    (
        "clearance hole",
        "a hole through which a screw goes without touching",
    ),
    ("core", "metal that makes the inside of a hollow part"),
    (
        "counterbore",
        "a flat-bottomed widening, for a screw's head",
    ),
    (
        "cushion",
        "melt that is left before the plunger at the end of the shot, so that it can still press",
    ),
    ("cycle", "the time from one shot to the next"),
    (
        "datum",
        "the corner or edge from which all sizes are measured",
    ),
    (
        "dowel pin",
        "a ground pin that puts the halves together in the same place each time",
    ),
    (
        "draft",
        "the slope of walls along the pull, so that the part lets go",
    ),
    (
        "ejection",
        "taking the part out; here by hand, bars or screws",
    ),
    ("engagement", "the length over which a thread holds"),
    ("flash", "a thin film of plastic where the halves part"),
    ("gate", "the narrow place where melt enters the cavity"),
    ("jack screw", "a screw that pushes the halves apart"),
    ("kerf", "the width that a cutting beam takes away"),
    ("land", "the short flat length of a gate or vent"),
    (
        "melt flow rate",
        "grams of melt that a die lets through in ten minutes; high is easy-flowing",
    ),
    ("parting plane", "where the halves meet"),
    ("plunger", "the rod that pushes the melt"),
    ("preload", "the force with which a tightened screw presses"),
    ("pry slot", "a place where a bar parts the halves"),
    (
        "reamer",
        "a tool that brings a drilled hole to its exact size",
    ),
    (
        "residence time",
        "how long plastic stays hot; too long and it decomposes",
    ),
    ("runner", "the channel from the sprue to the gate"),
    ("short shot", "a part that did not fill"),
    (
        "shot",
        "all the plastic of one filling: parts, runners and sprue",
    ),
    (
        "shrinkage",
        "by how much the part is smaller than the cavity when it is cold",
    ),
    ("sink", "a dent over a thick place that cooled late"),
    (
        "sprue",
        "the plastic in the bore that leads from the nozzle into the mold",
    ),
    ("undercut", "what hooks when the mold opens"),
    (
        "vent",
        "a shallow groove that lets air out and keeps melt in",
    ),
];

pub(super) fn glossary() -> String {
    let rows: String = GLOSSARY
        .iter()
        .map(|(word, meaning)| format!("<dt>{word}</dt><dd>{meaning}</dd>\n"))
        .collect();
    format!("<dl class=\"cautions\">\n{rows}</dl>\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_measured_is_a_key_and_words_stand_in_order() {
        for (key, _) in MEASURES {
            assert!(sections::find(key).is_some(), "{key}");
        }
        assert!(GLOSSARY.is_sorted_by_key(|w| w.0.to_lowercase()));
    }
}
