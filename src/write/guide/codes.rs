//! Findings and faults, each with what it says, where it comes from and what cures it.

use crate::base::Code;
use crate::base::finding::Level;
use crate::spec::codes;
use crate::write::markup::escape;

/// Every finding, the gravest that it can be first.
pub(super) fn findings() -> String {
    let mut out = String::from(
        "<p>A stop forbids cutting metal, a warning is to be read before cutting, a note is good to know. \
         The finding itself tells the numbers of your design; <code>platewright why FILE CODE</code> and \
         <code>platewright remedy FILE</code> compute what cures it in yours.</p>\n",
    );
    for (level, title) in [
        (Level::Stop, "Those that can stop"),
        (Level::Warn, "Those that can warn"),
        (Level::Note, "Those that only note"),
    ] {
        let mut all: Vec<&Code> = Code::ALL
            .iter()
            .filter(|c| c.levels().iter().min() == Some(&level))
            .collect();
        all.sort_by_key(|c| c.as_str());
        let rows: String = all
            .iter()
            .map(|c| {
                let levels: Vec<&str> = c.levels().iter().map(|l| l.word()).collect();
                format!(
                    "<tr id=\"{c}\"><th scope=\"row\"><code>{c}</code></th><td>{}</td><td>{}</td><td><code>{}</code></td><td>{}</td></tr>\n",
                    levels.join(", "),
                    escape(c.meaning()),
                    escape(c.at()),
                    escape(c.cure())
                )
            })
            .collect();
        out.push_str(&format!(
            "<details><summary>{title} ({})</summary>\n<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"{title}\"><table>\n<thead><tr><th scope=\"col\">code</th><th scope=\"col\">comes as</th>\
             <th scope=\"col\">cause</th><th scope=\"col\">points at</th><th scope=\"col\">cure</th></tr></thead>\n<tbody>{rows}</tbody></table></div>\n</details>\n",
            all.len()
        ));
    }
    out
}

/// What can be wrong in a parameter file.
pub(super) fn faults() -> String {
    let rows: String = codes::ALL
        .iter()
        .map(|(code, meaning)| {
            format!(
                "<tr><th scope=\"row\"><code>{code}</code></th><td>{}</td></tr>\n",
                escape(meaning)
            )
        })
        .collect();
    format!(
        "<p>A fault is shown with its line, what is wrong and what would be right; nothing is written.</p>\n\
         <details><summary>All {} codes</summary>\n<table>\n<thead><tr><th scope=\"col\">code</th><th scope=\"col\">what is wrong</th></tr></thead>\n<tbody>{rows}</tbody></table>\n</details>\n",
        codes::ALL.len()
    )
}
