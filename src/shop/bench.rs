//! A plate on the bench while its operations are planned.
//!
//! Input: the plate, the workshop. Output: empty operations with their lubricant and speeds. Which
//! operations a plate takes is said by `plan` and by those that it asks.

use super::conditions::Conditions;
use super::levels::Levels;
use super::operation::{Coolant, Kind, Operation};
use super::profile::{ProfileCut, is_cut};
use super::workshop::Workshop;
use crate::base::Finding;
use crate::data::material;
use crate::data::materials::Group;
use crate::design::{Face, Feature, Plate, WeldedFitting};

/// Handling per hole, per tool and per set-up, minutes.
pub(super) const PER_HOLE: f64 = 0.3;
pub(super) const PER_TOOL: f64 = 2.0;

/// What is known while one plate is planned.
pub(super) struct Bench<'a> {
    pub(super) plate: &'a Plate,
    pub(super) workshop: &'a Workshop,
    /// What is hollow at each height.
    pub(super) levels: &'a Levels<'a>,
    /// The service that cuts sheets.
    pub(super) cut: Option<ProfileCut>,
    /// The fitting that is welded on its upper face.
    pub(super) welded: Option<&'a WeldedFitting>,
    pub(super) findings: Vec<Finding>,
    pub(super) operations: Vec<Operation>,
}

impl<'a> Bench<'a> {
    /// What is made in the workshop from one face: all that no service has cut.
    pub(super) fn features(&self, face: Face) -> impl Iterator<Item = &'a Feature> + use<'a> {
        let (plate, cut) = (self.plate, self.cut);
        plate
            .features
            .iter()
            .filter(move |f| f.face == face && !cut.is_some_and(|c| is_cut(plate, f, &c)))
    }

    /// A new operation with nothing set yet.
    pub(super) fn operation(&self, kind: Kind, face: Face, what: String) -> Operation {
        Operation {
            number: 0,
            setup: 0,
            face,
            kind,
            what,
            tags: Vec::new(),
            makes: Vec::new(),
            tool: String::new(),
            machine: None,
            rpm: None,
            wanted: None,
            limited: false,
            feed: None,
            passes: String::new(),
            coolant: None,
            minutes: PER_TOOL,
            cutting: 0.0,
            caution: String::new(),
            measure: Vec::new(),
            motions: Vec::new(),
            rests: Vec::new(),
            led: None,
            allowance: 0.0,
            needs: Vec::new(),
        }
    }

    /// Lubricant for the metal (common practice, no source).
    pub(super) fn coolant(&self) -> Option<Coolant> {
        Some(match material(&self.plate.material).map(|m| m.group) {
            Some(Group::Aluminium) => Coolant::AluminiumFluid,
            Some(Group::MildSteel | Group::Copper) => Coolant::CuttingOil,
            Some(Group::Brass | Group::CastIron) => Coolant::Dry,
            None => Coolant::Suppliers,
        })
    }

    /// Machine, speeds and feed into an operation.
    pub(super) fn set(&self, o: &mut Operation, c: Option<Conditions>) {
        if let Some(c) = c {
            o.machine = c.machine;
            o.wanted = Some(c.wanted);
            o.rpm = Some(c.rpm);
            o.feed = Some(c.feed.round());
            o.limited = c.limited;
        }
    }
}

/// Adds a sentence.
pub(super) fn add(text: &mut String, more: &str) {
    if !text.is_empty() {
        text.push_str("; ");
    }
    text.push_str(more);
}
