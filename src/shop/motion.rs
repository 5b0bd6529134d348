//! What a tool does to the metal: its shape and how it moves, and nothing of what it is for.
//!
//! Input: operations are planned with these. Output: read by [`super::removal`] and written into
//! the package. Heights and places in mold coordinates, mm; a tool comes from the operation's face.

use super::area::Area;
use crate::sketch::Point;

/// One motion.
#[derive(Debug, Clone, PartialEq)]
pub enum Motion {
    /// The work piece is brought to this outline over its whole height: sawn, squared, turned or
    /// cut by a beam.
    Outline {
        /// What stays.
        keep: Area,
    },
    /// An opening right through, cut by a beam.
    Through {
        /// What falls out.
        area: Area,
    },
    /// A tool that turns about an axis, fed straight down.
    Axis {
        /// The axis.
        at: Point,
        /// Its cutting shape: depth below the operation's face that it reaches at a radius,
        /// (radius, depth) by rising radius from the axis.
        shape: Vec<[f64; 2]>,
    },
    /// An end mill whose centre is moved over an area at one height.
    Clear {
        /// Where the centre goes.
        centres: Area,
        /// Height of its end.
        z: f64,
        /// Its radius.
        radius: f64,
    },
    /// A ball end mill along a line, its centre at one height.
    Ball {
        /// Where the centre goes.
        path: Vec<Point>,
        /// Height of the ball's centre.
        z: f64,
        /// Its radius.
        radius: f64,
    },
    /// A lathe tool: everything about an axis is bored to a section.
    Bore {
        /// The axis.
        at: Point,
        /// (radius, height) by rising radius: how deep it goes there.
        section: Vec<[f64; 2]>,
    },
    /// A hooked tool in a bore: a groove about its axis that nobody sees from the face.
    Undercut {
        /// The axis.
        at: Point,
        /// Radius of the bore that it is in.
        bore: f64,
        /// Its own radius.
        radius: f64,
        /// Heights between which it lies.
        between: [f64; 2],
    },
    /// A parting tool from outside: a groove about its axis that nobody sees from the face.
    Neck {
        /// The axis.
        at: Point,
        /// Radius of what stands before it.
        outside: f64,
        /// What it leaves, radius.
        radius: f64,
        /// Heights between which it lies.
        between: [f64; 2],
    },
}

impl Motion {
    /// The same with a cutter that is `by` mm larger all around and goes `by` mm deeper; `into`:
    /// +1 where deeper is higher up.
    pub(super) fn grown(&self, by: f64, into: f64) -> Self {
        match self {
            Motion::Clear { centres, z, radius } => Motion::Clear {
                centres: centres.clone(),
                z: z + into * by,
                radius: radius + by,
            },
            other => other.clone(),
        }
    }
}

/// Depth or height at a radius between the points of a shape; `None` beyond its last.
pub fn at_radius(shape: &[[f64; 2]], radius: f64) -> Option<f64> {
    let last = shape.last()?;
    if radius > last[0] {
        return None;
    }
    // The last piece that holds the radius: at a step the deeper side is met exactly on it only.
    let k = shape.partition_point(|p| p[0] < radius);
    if k == 0 {
        return Some(shape[0][1]);
    }
    let (a, b) = (shape[k - 1], shape[k]);
    let t = if b[0] > a[0] {
        (radius - a[0]) / (b[0] - a[0])
    } else {
        1.0
    };
    Some(a[1] + t * (b[1] - a[1]))
}
