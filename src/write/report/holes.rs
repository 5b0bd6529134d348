//! The hole tables: everything that is cut into a plate, by the face it is cut from.

use super::table::Table;
use crate::base::shown;
use crate::design::{Face, Plate};
use crate::shop::hole_table::{hole_table, purpose_words};
use crate::shop::view::{FaceView, face_name};
use crate::write::drawing::hole_list::{hole_words, other_words};

/// The section.
pub(super) fn section(plates: &[Plate]) -> String {
    let unit = shown::length_word();
    let mut out = format!(
        "<h2>Hole tables</h2>\n<p>X and Y from the datum of the plate on the face named, in {unit}; \
         general tolerances ISO 2768-m. Through holes have no depth.</p>\n",
    );
    for plate in plates {
        let table = hole_table(plate);
        let other = match plate.reference {
            Face::Low => Face::High,
            Face::High => Face::Low,
        };
        for face in [plate.reference, other] {
            let name = format!(
                "{}, from the {}: {}",
                plate.title,
                face_name(plate, face),
                FaceView::on(plate, face).note()
            );
            let mut t = Table::new(&name, &["tag", "for", "size", "X", "Y"], 3);
            for h in table.holes.iter().filter(|h| h.face == face) {
                let (x, y) = (shown::bare_length(h.x, 2), shown::bare_length(h.y, 2));
                let cells = [&h.tag, purpose_words(h.purpose), &hole_words(h), &x, &y];
                t.row(&cells);
            }
            for o in table.others.iter().filter(|o| o.face == face) {
                t.row(&[&o.tag, purpose_words(o.purpose), &other_words(o), "", ""]);
            }
            out.push_str(&t.end());
        }
    }
    out
}
