//! Sections of runner and gate of a milled mold.
//!
//! Input: the part's thickness, the cutters at hand. Output: [`FeedSizes`] through the planner.

use super::feed::Channel;
use super::planner::{PRACTICE, Planner, up_to};
use crate::base::System;
use crate::base::decision::Rule;
use crate::base::shown::{self, INCH};
use crate::spec::Job;
use crate::spec::job::FeedSection;

/// Sections of runner and gate, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct FeedSizes {
    pub channel: Channel,
    pub gate_width: f64,
    pub gate_depth: f64,
    pub gate_length: f64,
}

/// A gate's width, or the next below it, mm, whose corners lie clear of the wall of a half-round
/// runner: on it they would leave a sliver there, or a step that no cutter makes clean.
pub(crate) fn clear_of_wall(mut width: f64, depth: f64, runner_dia: f64) -> f64 {
    let corner = |width: f64| (0.5 * width).hypot(depth) / (0.5 * runner_dia);
    while width > 1.0 && (corner(width) - 1.0).abs() < 0.04 {
        width -= 0.5;
    }
    width
}

/// Runner by a ball end mill, gate by an end mill.
pub(super) fn milled_sizes(p: &mut Planner, thickness: f64) -> FeedSizes {
    let grid = p.grid();
    let feed = p.job.feed.clone();
    let balls = ball_mills(p.job);
    let runner_dia = p.length(FeedSection::runner_diameter, feed.runner_diameter.as_ref(), || {
        let want = thickness + 3.0;
        let dia = balls
            .iter()
            .copied()
            .find(|d| *d >= want)
            .or(balls.last().copied())
            .unwrap_or(6.0);
        (
            dia,
            Rule::new(
                format!("half round by the ball end mill next above part thickness + {}, so that the runner freezes after the part", shown::size(3.0)),
                PRACTICE,
            )
            .with("part thickness", shown::size(thickness))
            .changes_with("feed.runner_diameter, shop.ball_mills"),
        )
    });
    let gate_depth = p.length(FeedSection::gate_depth, feed.gate_depth.as_ref(), || {
        let depth = (0.6 * thickness).min(0.45 * runner_dia);
        (
            ((depth * 10.0).round() / 10.0).max(0.4),
            Rule::new(
                "0.6 × part thickness (usual 0.5 to 0.8), at most 0.9 × the runner's depth",
                "from memory: gate rules of molding handbooks, no source at hand",
            )
            .with("part thickness", shown::size(thickness))
            .with("runner diameter", shown::size(runner_dia))
            .changes_with("feed.gate_depth; deeper fills easier and leaves a larger scar"),
        )
    });
    let gate_width = p.length(FeedSection::gate_width, feed.gate_width.as_ref(), || {
        let width = up_to(
            (2.0 * gate_depth).clamp(2.0, 0.8 * runner_dia.max(2.6)),
            grid(0.5),
        );
        (
            clear_of_wall(width, gate_depth, runner_dia),
            Rule::new(
                "twice the gate depth, at most 0.8 × runner diameter, its corners clear of the runner's wall",
                PRACTICE,
            )
            .with("gate depth", shown::size(gate_depth))
            .changes_with("feed.gate_width"),
        )
    });
    let gate_length = p.length(FeedSection::gate_length, feed.gate_length.as_ref(), || {
        (
            1.0,
            Rule::new(
                format!(
                    "as short as the steel between runner and cavity allows: {}",
                    shown::size(1.0)
                ),
                PRACTICE,
            )
            .changes_with("feed.gate_length"),
        )
    });
    FeedSizes {
        channel: Channel::HalfRound {
            radius: 0.5 * runner_dia,
        },
        gate_width,
        gate_depth,
        gate_length,
    }
}

/// Ball end mills at hand, ascending, mm.
pub(crate) fn ball_mills(job: &Job) -> Vec<f64> {
    let mut all: Vec<f64> = match &job.shop.ball_mills {
        Some(list) => list.value.iter().map(|l| l.mm()).collect(),
        None => match job.sold() {
            System::Metric => vec![3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0],
            System::Inch => [8, 12, 16, 20, 24, 32]
                .map(|n| f64::from(n) * INCH / 64.0)
                .to_vec(),
        },
    };
    all.sort_by(f64::total_cmp);
    all
}
