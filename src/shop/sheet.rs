//! Profile-cut sheets: what the beam makes, and what is done by hand afterwards.
//!
//! Input: a sheet (or a loose island, or a bought pin) on the bench. Output: operations: order
//! and cut, knock off dross, file the cut edges, lap flat, scratch vents. All by common practice.

use super::bench::{Bench, add};
use super::motion::Motion;
use super::operation::{Kind, Made, Measure};
use super::profile::{ProfileCut, hole_is_cut, is_cut};
use crate::base::shown;
use crate::data::material;
use crate::data::profile::Process;
use crate::design::{Feature, Purpose, Shape, Side};

impl Bench<'_> {
    /// Orders the sheet and has it cut.
    pub(super) fn order_sheet(&mut self, cut: &ProfileCut) {
        let plate = self.plate;
        let b = plate.outline.bounds();
        let metal = material(&plate.material).map_or(plate.material.as_str(), |m| m.name.as_str());
        let word = cut.process.word();
        let mut tags = Vec::new();
        let mut makes = Vec::new();
        for f in plate.features.iter().filter(|f| is_cut(plate, f, cut)) {
            tags.push(f.tag.clone());
            let steps = match &f.shape {
                Shape::Hole(h) => h.steps.len(),
                _ => 1,
            };
            makes.extend((0..steps).map(|step| Made {
                tag: f.tag.clone(),
                step,
            }));
        }
        let what = format!(
            "{metal} sheet, {}: have it cut by {word} from the cut sheet (DXF), {} × {} with all openings; \
             reamed and tapped holes are only marked",
            shown::size(plate.thickness()),
            shown::bare_length(b.width(), 1),
            shown::length(b.height(), 1)
        );
        let mut o = self.operation(Kind::Profile, plate.reference, what);
        o.setup = 1;
        o.tool = format!("{word} cutting service");
        o.minutes = 5.0;
        o.tags = tags;
        o.makes = makes;
        o.motions.push(Motion::Outline {
            keep: self.levels.outline().clone(),
        });
        for f in plate.features.iter().filter(|f| is_cut(plate, f, cut)) {
            o.motions.push(match &f.shape {
                Shape::Hole(h) => {
                    let r = 0.5 * hole_is_cut(plate, h, cut).unwrap_or(0.0);
                    let depth = plate.thickness() + 1.0;
                    Motion::Axis {
                        at: h.at,
                        shape: vec![[0.0, depth], [r, depth]],
                    }
                }
                _ => Motion::Through {
                    area: self.own(f, 0.5 * plate.thickness()),
                },
            });
        }
        o.caution = "new cut edges are sharp and hot; tell the service whether the file allows for its kerf".into();
        o.measure.push(Measure::from(format!(
            "thickness {}",
            shown::size(plate.thickness())
        )));
        self.operations.push(o);
        let what = format!(
            "mark the side where the beam went in (the cut is wider there): it is the {}; number the sheet outside the openings",
            super::view::face_name(plate, plate.reference)
        );
        let mut o = self.operation(Kind::Profile, plate.reference, what);
        o.setup = 1;
        o.tool = "felt pen, letter stamps".into();
        o.minutes = 2.0;
        self.operations.push(o);
    }

    /// After drilling: dross and burrs, cut edges, flat faces.
    pub(super) fn finish_sheet(&mut self, cut: &ProfileCut) {
        let face = self.plate.reference;
        let dross = match cut.process {
            Process::Plasma | Process::Oxyfuel => {
                "knock and grind the dross off the lower edges, flush with the face"
            }
            Process::Laser => {
                "scrape the thin burr off the lower edges with a flat file laid on the face"
            }
            Process::Waterjet => "wash the sand out; lift the fine burr off with an oil stone",
        };
        let mut o = self.operation(
            Kind::Deburr,
            face,
            format!("{dross}; leave the edges of the opening sharp: a rounded edge flashes"),
        );
        o.tool = "fine flat file, oil stone".into();
        o.minutes = 10.0;
        o.caution = "gloves: cut sheet is a knife".into();
        self.operations.push(o);
        let wet: Vec<String> = (self.plate.features.iter())
            .filter(|f| f.purpose == Purpose::Cavity)
            .map(|f| f.tag.clone())
            .collect();
        if self.plate.side == Side::Island || !wet.is_empty() {
            let what = "draw-file the cut edge upright and polish it through the sheet, the way the part leaves, until the beam's lines are gone; wider towards the nozzle if anything";
            let mut o = self.operation(Kind::Polish, face, what.into());
            o.tool = "fine file, paper 240, 400, 600 on a square stick".into();
            o.minutes = 25.0;
            o.caution = "dust: wet paper, glasses".into();
            o.measure
                .push("edge upright: no light under a small square on the face".into());
            o.tags = wet;
            self.operations.push(o);
        }
        let what = "lap both faces on wet paper 320 on a flat plate until an even grey shows all around the opening";
        let mut o = self.operation(Kind::Lap, face, what.into());
        o.tool = "glass or surface plate, wet paper 320".into();
        o.minutes = 15.0;
        o.measure
            .push("flat: no light under a straight edge, both faces".into());
        if self.plate.side == Side::Island {
            o.measure.push(Measure::from(format!(
                "as thick as its sheet to {}: lap both together",
                shown::size(0.02)
            )));
        }
        self.operations.push(o);
    }

    /// A vent by hand.
    pub(super) fn scratch(&mut self, f: &Feature, depth: f64) {
        let land = f.purpose == Purpose::VentLand;
        let what = if land {
            format!(
                "scratch vent land {}: {} deep from the opening's edge",
                f.tag,
                shown::size(depth)
            )
        } else {
            format!(
                "file vent relief {}: {} deep to the sheet's edge",
                f.tag,
                shown::size(depth)
            )
        };
        let mut o = self.operation(Kind::Scratch, f.face, what);
        o.tool = if land {
            format!(
                "strokes of paper 120 on a {} stick, all one way",
                shown::size(6.0)
            )
        } else {
            "small flat file".into()
        };
        o.minutes = if land { 3.0 } else { 8.0 };
        if land {
            add(
                &mut o.caution,
                "begin with a few strokes, deepen after the first shots: too deep a land flashes",
            );
        }
        o.tags = vec![f.tag.clone()];
        o.makes.push(Made {
            tag: f.tag.clone(),
            step: 0,
        });
        o.motions.push(self.by_hand(f, depth));
        self.operations.push(o);
    }

    /// A bought pin.
    pub(super) fn pin(&mut self) {
        let what = "press in from the B plate's front until its end is flush with the uppermost sheet: the closed A plate just touches it";
        let mut o = self.operation(Kind::Stock, self.plate.reference, what.into());
        o.tool = "vice with soft jaws or arbor press, oil".into();
        o.minutes = 10.0;
        o.caution = "too long a pin holds the mold open, too short a one closes the hole with a skin: grind its end square".into();
        o.measure.push(Measure::from(format!(
            "end {} to {} over the sheet, felt with a finger nail and a straight edge",
            shown::bare_size(0.0),
            shown::size(0.02)
        )));
        self.operations.push(o);
    }
}
