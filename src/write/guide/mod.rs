//! The guide: one page to learn from, that opens from disk.
//!
//! Input: the definitions of the file, the findings, the tables; drawings of the starter mold.
//! Output: one standalone HTML page without scripts. Nothing is said here that another module
//! decides: keys, codes, sizes and cautions come from where they are defined.

mod codes;
mod keys;
mod threads;
mod words;

use super::markup::escape;
use super::report::STYLE;
use super::sheet;
use crate::spec::shots::{EXAMPLE, PURGE_TEST, Shots};

/// What the first mold is shown with.
#[derive(Debug, Clone, Default)]
pub struct FirstMold {
    /// The starter file.
    pub text: String,
    /// Caption and `svg` element of each picture.
    pub pictures: Vec<(String, String)>,
    /// Names of the files of its package.
    pub files: Vec<String>,
}

const OWN: &str = "h2{scroll-margin-top:1rem}pre{overflow-x:auto;background:var(--band);padding:.6rem .8rem;font:.9rem/1.4 'DejaVu Sans Mono',monospace}\
code{font:.92em 'DejaVu Sans Mono',monospace}.guide{max-width:60rem}.guide table{max-width:100%}.guide :is(th,td){overflow-wrap:normal}.guide :is(th,td) code{white-space:nowrap}\
.picture svg{display:block;max-width:100%;height:auto;background:#fff;border:1px solid var(--line)}details{border-bottom:1px solid var(--line)}\
details>summary{font-weight:600}.wide{overflow-x:auto}@media print{details::details-content{content-visibility:visible;block-size:auto}}";

/// The sections: anchor, heading, body.
fn sections(mold: &FirstMold) -> Vec<(&'static str, &'static str, String)> {
    vec![
        ("cautions", "Before anything gets hot", cautions()),
        ("nozzle", "Which thread the nozzle has", threads::section()),
        ("measure", "Measuring machine and shop", words::measuring()),
        ("first", "A first mold, step by step", first(mold)),
        ("loop", "Changing it", words::changing().to_owned()),
        ("shots", "The first shots", shots()),
        ("keys", "Every key of the file", keys::section()),
        ("findings", "Every finding", codes::findings()),
        ("faults", "Every fault of a file", codes::faults()),
        ("words", "Words of the trade", words::glossary()),
    ]
}

/// The page.
pub fn page(mold: &FirstMold) -> String {
    let all = sections(mold);
    let links: String = all
        .iter()
        .map(|(id, title, _)| format!("<a href=\"#{id}\">{title}</a>\n"))
        .collect();
    let main: String = all
        .iter()
        .map(|(id, title, body)| {
            format!("<section id=\"{id}\">\n<h2>{title}</h2>\n{body}</section>\n")
        })
        .collect();
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <title>{TITLE}</title>\n<style>\n{STYLE}{OWN}</style>\n</head>\n<body class=\"guide\">\n\
         <header>\n<h1>{TITLE}</h1>\n<p>From a lever machine with a pipe fitting for a nozzle to a mold that fits it. \
         Version {version}.</p>\n<nav aria-label=\"Sections\">\n{links}</nav>\n</header>\n<main>\n{main}</main>\n</body>\n</html>\n",
        version = env!("CARGO_PKG_VERSION"),
    )
}

/// What every guide has near its beginning: a file with it may be written anew.
pub const TITLE: &str = "Platewright: the guide";

fn cautions() -> String {
    let rows: String = sheet::cautions()
        .iter()
        .map(|(subject, text)| format!("<dt>{}</dt><dd>{}</dd>\n", escape(subject), escape(text)))
        .collect();
    format!("<dl class=\"cautions\">\n{rows}</dl>\n")
}

/// What the machine says: the file of shots, the purge test, the grade, the register.
fn shots() -> String {
    let wrap = |text: &str| format!("<p>{}</p>\n", escape(text));
    let mut out = wrap(
        "Five minutes at the machine know more than any table. Write what was measured into \
         NAME.shots.toml beside NAME.toml; that file is yours and is never written by the program.",
    );
    out += &format!("<pre tabindex=\"0\">{}</pre>\n", escape(EXAMPLE));
    out += "<p><code>platewright shots FILE</code> compares it with what was computed: ranges of viscosity, \
            losses, contact and shrinkage before and after, what to do, and which measurement tells most next. \
            Package, findings and <code>platewright study</code> then use what was learned; the sizes of the \
            mold stay, because its metal is cut. The fills behind the ranges are in its answer with \
            <code>--json</code>, under \"computed\". A file that is changed after the mold was cut has another \
            revision: with <code>revision = \"0a1b2c3d\"</code> as on the mold's card a record says which mold it \
            is of, and is told apart. <code>--save-grade caps.grade</code> keeps the plastic for other \
            molds, which name it by <code>plastic.grade</code>. <code>platewright register DIR</code> lists all \
            molds below a folder.</p>\n";
    out += &wrap(PURGE_TEST);
    keys::of_file(Shots::FILE, &mut out);
    out
}

fn first(mold: &FirstMold) -> String {
    let mut out = words::first_steps(&mold.text);
    for (caption, svg) in &mold.pictures {
        out.push_str(&format!(
            "<figure class=\"picture\">\n{svg}<figcaption>{}</figcaption>\n</figure>\n",
            escape(caption)
        ));
    }
    let files: Vec<String> = mold
        .files
        .iter()
        .map(|f| format!("<code>{}</code>", escape(f)))
        .collect();
    if !files.is_empty() {
        out.push_str(&format!(
            "<p>The package holds {}. Read <code>report.html</code> first.</p>\n",
            files.join(", ")
        ));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::Code;
    use crate::spec;

    #[test]
    fn every_key_every_code_and_every_thread_is_in_it() {
        let page = page(&FirstMold::default());
        for (path, key) in spec::sections::all() {
            let name = path.rsplit('.').next().unwrap_or(&path);
            assert!(page.contains(&format!("<code>{name}</code>")), "{path}");
            assert!(page.contains(&escape(key.doc)), "{path}: {}", key.doc);
        }
        for code in Code::ALL {
            assert!(page.contains(&format!("id=\"{code}\"")), "{code}");
        }
        for (code, _) in spec::codes::ALL {
            assert!(page.contains(&format!("<code>{code}</code>")), "{code}");
        }
        // ISO 228-1, G 1/2: 20.955 mm over the threads, 14 to the inch.
        assert!(page.contains("20.955") && page.contains("1.814"));
        assert_eq!(page, super::page(&FirstMold::default()));
        assert!(
            !page.contains("<script") && !page.contains("http://") && !page.contains("https://")
        );
    }

    #[test]
    fn every_key_that_a_cure_names_can_be_written() {
        for code in Code::ALL {
            let words = code
                .cure()
                .split(|c: char| !(c.is_ascii_lowercase() || c == '.' || c == '_'));
            for word in words.filter(|w| w.trim_matches('.').contains('.')) {
                assert!(spec::sections::find(word).is_some(), "{code}: {word}");
            }
        }
    }
}
