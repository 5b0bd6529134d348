//! `[part.profile]`: the section of a turned part, distance from the axis against height.
//!
//! Input: its table. Output: the typed section. Does not draw it (see `part`).

use super::key::{Kind, REQUIRED, length};
use super::place::Place;
use super::section::section;
use super::shape::{LARGEST, OutlineSpec, PathStep, StepKeys};
use super::value::Value;
use crate::base::Opt;
use crate::base::{Given, Length};
use crate::sketch::Point;
use serde::Serialize;
use toml::Spanned;
use toml::de::DeValue;

/// Most steps of a profile.
const MOST_STEPS: usize = 200;

/// `[part.profile]`: points are [distance from the axis, height].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProfileSpec {
    /// First point.
    pub start: Given<Point>,
    /// Lines and arcs. Without `wall` they draw around the whole section.
    pub steps: Vec<Given<PathStep>>,
    /// The steps draw the outside from the axis to the rim; this thickness lies inside.
    pub wall: Opt<Length>,
}

impl ProfileSpec {
    /// The path as a shape in (distance from the axis, height), with a further point at its end.
    pub fn path(&self, more: Option<Point>) -> OutlineSpec {
        let last = more.map(|to| {
            let span = self.steps.last().map_or(self.start.span, |s| s.span);
            Given::new(PathStep::Line { to, fillet: None }, span)
        });
        OutlineSpec::Path {
            start: self.start.clone(),
            steps: self.steps.iter().cloned().chain(last).collect(),
        }
    }
}

section! {
    /// The keys of a profile.
    pub struct ProfileKeys, "profile", "The section of a turned part: points are [distance from the axis, height].";
    /// First point; on the axis ([0, height]) where `wall` is given.
    start: Point = Kind::Point(LARGEST), REQUIRED, "[0, 12]";
    /// Lines and arcs around the section, closed with a line if need be; with `wall`, the outside from the axis to the rim.
    steps: Vec<Given<PathStep>> = Kind::Tables(StepKeys::SECTION, MOST_STEPS), REQUIRED, "[{ to = [15, 12] }, { to = [16, 0] }]";
    /// Wall thickness of a hollow part: the steps are its outside, the inside runs parallel.
    wall: Length = length(0.4, 30.0), "the steps draw the whole section", "2";
}

impl Value for ProfileSpec {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let table = at.table(value, ProfileKeys::SECTION)?;
        let keys = ProfileKeys::read(&table);
        Some(ProfileSpec {
            start: keys.start?,
            steps: keys.steps?.value,
            wall: keys.wall,
        })
    }
}
