//! Wall profiles: draft about the parting plane, chamfered and rounded edges.
//!
//! Input: heights above and below the parting plane (z = 0), draft, edges.
//! Output: profile points for a prism. Drawn size at z = 0.

use super::form::ProfilePoint;
use crate::base::shown;
use crate::spec::job::EdgeKind;

/// One of the two faces of a plate part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The upper one.
    Top,
    /// The lower one.
    Bottom,
}

impl std::fmt::Display for Side {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Side::Top => "top",
            Side::Bottom => "bottom",
        })
    }
}

/// Why an edge cannot be made. Each names the face.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EdgeError {
    /// The edge has no positive size.
    #[error("the {face} edge is {}, it must be greater than 0", shown::size(*.size))]
    Size {
        /// Face.
        face: Side,
        /// Chamfer or radius, mm.
        size: f64,
    },
    /// The edge is higher than the wall between its face and the parting plane.
    #[error("the {face} edge takes {} of height, only {} of the part lie between its {face} face and the parting plane", shown::size(*.needs), shown::size(*.height))]
    TooHigh {
        /// Face.
        face: Side,
        /// Height used, mm.
        needs: f64,
        /// Height there, mm.
        height: f64,
    },
}

/// One half of the wall: points from the face's edge to the last one before z = 0,
/// z counted away from the parting plane. The bulge is the one met when z rises in
/// the lower half; the upper half, mirrored and travelled the other way, has the same.
fn half(
    face: Side,
    height: f64,
    tangent: f64,
    edge: Option<EdgeKind>,
) -> Result<Vec<ProfilePoint>, EdgeError> {
    let corner = height * tangent;
    let Some(edge) = edge else {
        return Ok(if height > 0.0 {
            vec![ProfilePoint::new(corner, height)]
        } else {
            Vec::new()
        });
    };
    let size = match edge {
        EdgeKind::Chamfer(l) | EdgeKind::Radius(l) => l.mm(),
    };
    if !(size.is_finite() && size > 0.0) {
        return Err(EdgeError::Size { face, size });
    }
    let draft = tangent.atan();
    // What the edge takes off the face and off the wall's height.
    let (inset, down, bulge) = match edge {
        EdgeKind::Chamfer(_) => (corner + size, size, 0.0),
        EdgeKind::Radius(_) => {
            // Tangent length of a fillet of radius r between face and wall, which
            // stand at 90° + draft inside the part: r·tan((90° − draft)/2).
            let turned = std::f64::consts::FRAC_PI_2 - draft;
            let t = size * (0.5 * turned).tan();
            (corner + t, t * draft.cos(), -(0.25 * turned).tan())
        }
    };
    if down > height * (1.0 + 1e-12) {
        return Err(EdgeError::TooHigh {
            face,
            needs: down,
            height,
        });
    }
    let mut points = vec![ProfilePoint {
        across: inset,
        z: height,
        bulge,
    }];
    let z = (height - down).max(0.0);
    if z > 1e-9 {
        points.push(ProfilePoint::new(z * tangent, z));
    }
    Ok(points)
}

/// The wall of a part that reaches from −`below` to +`above` (both ≥ 0, not both
/// 0), drawn size at z = 0, shrinking by `draft_deg` per side towards both faces.
///
/// # Errors
/// An edge that does not fit between its face and the parting plane.
pub fn wall(
    below: f64,
    above: f64,
    draft_deg: f64,
    bottom: Option<EdgeKind>,
    top: Option<EdgeKind>,
) -> Result<Vec<ProfilePoint>, EdgeError> {
    let tangent = draft_deg.to_radians().tan();
    let mut profile = half(Side::Bottom, below, tangent, bottom)?;
    for p in &mut profile {
        p.z = -p.z;
    }
    profile.push(ProfilePoint::new(0.0, 0.0));
    // The upper half is travelled away from the plane: its arcs belong to the
    // points nearer to the plane. Mirroring and reversing keep the sign.
    let upper = half(Side::Top, above, tangent, top)?;
    for i in (0..upper.len()).rev() {
        if let Some(last) = profile.last_mut() {
            last.bulge = upper[i].bulge;
        }
        profile.push(ProfilePoint::new(upper[i].across, upper[i].z));
    }
    // Without draft the corner at the parting plane is none.
    profile = (0..profile.len())
        .filter(|&i| {
            let idle = i > 0
                && i + 1 < profile.len()
                && [profile[i - 1], profile[i]].iter().all(|p| p.bulge == 0.0)
                && profile[i - 1].across == profile[i].across
                && profile[i].across == profile[i + 1].across;
            !idle
        })
        .map(|i| profile[i])
        .collect();
    Ok(profile)
}

/// A straight drafted wall from `z0` up to `z1` with drawn size at `z_drawn`;
/// `grows_up` tells that the body widens as z rises.
pub fn straight(
    z0: f64,
    z1: f64,
    z_drawn: f64,
    draft_deg: f64,
    grows_up: bool,
) -> Vec<ProfilePoint> {
    let slope = draft_deg.to_radians().tan() * if grows_up { -1.0 } else { 1.0 };
    vec![
        ProfilePoint::new((z0 - z_drawn) * slope, z0),
        ProfilePoint::new((z1 - z_drawn) * slope, z1),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::Length;
    use crate::sketch::{Point, Segment, Vertex};

    #[test]
    fn a_rounded_edge_is_tangent_to_face_and_wall() {
        let r = Some(EdgeKind::Radius(Length::from_mm(2.0)));
        let p = wall(4.0, 5.0, 3.0, r, r).unwrap();
        assert_eq!(p.len(), 5);
        let segment = |i: usize| {
            Segment::between(
                Vertex::new(p[i].across, p[i].z, p[i].bulge),
                Point::new(p[i + 1].across, p[i + 1].z),
            )
        };
        for i in [0, 3] {
            let Segment::Arc { radius, .. } = segment(i) else {
                panic!("an arc")
            };
            assert!((radius - 2.0).abs() < 1e-12);
        }
        // Level at both faces, along the wall at the other ends.
        assert!(segment(0).direction_at(0.0).y.abs() < 1e-12);
        assert!(segment(3).direction_at(1.0).y.abs() < 1e-12);
        for (a, b) in [(0, 1), (2, 3)] {
            let d = segment(a).direction_at(1.0) - segment(b).direction_at(0.0);
            assert!(d.norm() < 1e-12);
        }
    }

    #[test]
    fn an_edge_must_fit_below_the_parting_plane() {
        let c = Some(EdgeKind::Chamfer(Length::from_mm(1.5)));
        let e = wall(1.0, 3.0, 1.0, c, None).unwrap_err();
        assert!(e.to_string().contains("takes 1.5 mm"), "{e}");
        assert!(wall(1.5, 3.0, 1.0, c, None).is_ok());
    }
}
