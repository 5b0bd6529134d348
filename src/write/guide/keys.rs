//! Every key of the parameter file, from its one definition.

use crate::base::shown;
use crate::spec::help::takes;
use crate::spec::key::{Key, Kind, Section};
use crate::spec::sections::FILE;
use crate::write::markup::escape;

/// All sections, each a fold with a table; tables within follow their section.
pub(super) fn section() -> String {
    let mut out = String::from(
        "<p>Plain numbers are millimetres, degrees, newtons, MPa and °C; text may carry a unit: \
         <code>\"3/8 in\"</code>. What is left out is decided, and <code>platewright why FILE KEY</code> gives the reason. \
         A list of tables is written <code>[[part.feature]]</code>, once for each.</p>\n",
    );
    of_file(FILE, &mut out);
    out
}

/// The sections of a file.
pub(super) fn of_file(file: &'static Section, out: &mut String) {
    for key in file.keys {
        match key.kind {
            Kind::Table(section) => fold(key.name, key, section, false, out),
            Kind::Tables(section, _) => fold(key.name, key, section, true, out),
            _ => {}
        }
    }
}

fn fold(path: &str, of: &Key, section: &'static Section, list: bool, out: &mut String) {
    let shown = if list {
        format!("[[{path}]]")
    } else {
        format!("[{path}]")
    };
    let rows: String = section.keys.iter().map(row).collect();
    out.push_str(&format!(
        "<details><summary><code>{}</code> {}</summary>\n<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"{}\"><table>\n<thead><tr><th scope=\"col\">key</th><th scope=\"col\">meaning</th>\
         <th scope=\"col\">takes</th><th scope=\"col\">left out</th><th scope=\"col\">example</th></tr></thead>\n<tbody>{rows}</tbody></table></div>\n</details>\n",
        escape(&shown),
        escape(of.doc),
        escape(&shown),
    ));
    for key in section.keys {
        let below = format!("{path}.{}", key.name);
        match key.kind {
            Kind::Table(s) => fold(&below, key, s, false, out),
            Kind::Tables(s, _) => fold(&below, key, s, true, out),
            _ => {}
        }
    }
}

fn row(key: &Key) -> String {
    let takes = match key.kind {
        Kind::Table(_) => "a table, see below".to_owned(),
        Kind::Tables(_, most) => format!("a list of at most {most} tables, see below"),
        kind => takes(kind),
    };
    format!(
        "<tr><th scope=\"row\"><code>{}</code></th><td>{}</td><td>{}</td><td>{}</td><td><code>{} = {}</code></td></tr>\n",
        key.name,
        escape(key.doc),
        escape(&takes),
        escape(&shown::sentence(key.default)),
        key.name,
        escape(key.example),
    )
}
