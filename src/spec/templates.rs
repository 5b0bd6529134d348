//! Commented starter files: what `platewright new` writes.
//!
//! Input: a name. Output: the text. All are read without fault (a test reads them).

/// A starter file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Template {
    /// Its name: `coaster`.
    pub name: &'static str,
    /// What it makes, one line.
    pub about: &'static str,
    /// The file's text.
    pub text: &'static str,
    /// Files that it names, written beside it: name and bytes.
    pub files: &'static [(&'static str, &'static [u8])],
}

impl Template {
    /// A file that it names; see [`super::attached::Beside`].
    ///
    /// # Errors
    /// There is none of that name.
    pub fn file(&self, name: &str) -> Result<Vec<u8>, String> {
        let found = self.files.iter().find(|f| f.0 == name);
        found.map_or_else(|| Err("is not built in".to_owned()), |f| Ok(f.1.to_vec()))
    }
}

const TEMPLATES: &[Template] = &[
    Template {
        name: "coaster",
        about: "round coaster with rings on the bottom, PP, one cavity, direct sprue",
        text: include_str!("../../templates/coaster.toml"),
        files: &[],
    },
    Template {
        name: "keyring",
        about: "keyring tag with a hole and raised letters, HDPE, edge gate",
        text: include_str!("../../templates/keyring.toml"),
        files: &[],
    },
    Template {
        name: "fish",
        about: "keyring fish whose outline and relief come from an SVG drawing beside it, HDPE",
        text: include_str!("../../templates/fish.toml"),
        files: &[("fish.svg", include_bytes!("../../templates/fish.svg"))],
    },
    Template {
        name: "button",
        about: "coat button with four holes, two cavities, runner and gates",
        text: include_str!("../../templates/button.toml"),
        files: &[],
    },
    Template {
        name: "cup",
        about: "tumbler with a wall of 2 mm, core bolted on the B plate, direct sprue",
        text: include_str!("../../templates/cup.toml"),
        files: &[],
    },
    Template {
        name: "wheel",
        about: "cart wheel with hub, five windows and ribs, turned cavities, edge gate",
        text: include_str!("../../templates/wheel.toml"),
        files: &[],
    },
    Template {
        name: "tag",
        about: "crate tag whose mold is a laser-cut sheet between two closing plates",
        text: include_str!("../../templates/tag.toml"),
        files: &[],
    },
    Template {
        name: "gear",
        about: "gear with involute teeth, module 2.5, HDPE, gate in the bore",
        text: include_str!("../../templates/gear.toml"),
        files: &[],
    },
    Template {
        name: "tiles",
        about: "letter tiles, a series: one package for each line of a table beside it, PP",
        text: include_str!("../../templates/tiles.toml"),
        files: &[("tiles.csv", include_bytes!("../../templates/tiles.csv"))],
    },
    Template {
        name: "shell",
        about: "soap dish from an STL mesh beside it, PP, hollow over a core, direct sprue",
        text: include_str!("../../templates/shell.toml"),
        files: &[("shell.stl", include_bytes!("../../templates/shell.stl"))],
    },
    Template {
        name: "adaptor",
        about: "nozzle adaptor plate, G 1/2 on four M8 screws",
        text: include_str!("../../templates/adaptor.toml"),
        files: &[],
    },
    Template {
        name: "npt-plate",
        about: "the same in inches: 1/2 NPT in a plate 4 x 4 x 3/4 in on four 1/4-20 screws",
        text: include_str!("../../templates/npt-plate.toml"),
        files: &[],
    },
    Template {
        name: "reducer",
        about: "turned reducer between nozzle R 1/2 and mold G 3/4, from hexagon bar",
        text: include_str!("../../templates/reducer.toml"),
        files: &[],
    },
    Template {
        name: "flange",
        about: "nozzle flange NPT 1/2 with a spigot, four screws, shared by several molds",
        text: include_str!("../../templates/flange.toml"),
        files: &[],
    },
    Template {
        name: "plug",
        about: "plate with a plug G 1/2 welded on as nozzle joint",
        text: include_str!("../../templates/plug.toml"),
        files: &[],
    },
    Template {
        name: "seat",
        about: "plate with a spherical seat for a nozzle that is pressed on",
        text: include_str!("../../templates/seat.toml"),
        files: &[],
    },
];

/// All templates.
pub fn list() -> &'static [Template] {
    TEMPLATES
}

/// A template by name.
pub fn get(name: &str) -> Option<&'static Template> {
    TEMPLATES.iter().find(|t| t.name == name)
}

/// The template whose name was probably meant.
pub fn nearest(name: &str) -> Option<&'static str> {
    super::suggest::closest(name, TEMPLATES.iter().map(|t| t.name)).map(|(n, _)| n)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::{job::JobKind, read};

    #[test]
    fn every_template_is_read_and_named_after_its_job() {
        for t in list() {
            let job = read(t.text).unwrap_or_else(|d| panic!("{}: {d:#?}", t.name));
            assert_eq!(job.job.name.as_ref().unwrap().value, t.name);
            let adaptor = job.job.kind.is_some_and(|k| k.value != JobKind::Mold);
            assert_eq!(job.part.is_none(), adaptor);
            assert!(t.text.contains("Saltmarsh Repair Shed"));
            assert!(t.text.is_ascii() || t.text.contains('°'));
        }
        assert_eq!(nearest("coster"), Some("coaster"));
    }
}
