//! Whether bodies surely have nothing in common, and groups of bodies that do not.
//!
//! Input: watertight meshes. Output: a yes only when the surfaces keep a distance and neither
//! body lies within the other. Rings around one another are apart, though their boxes nest.

use super::boolean::boxes_apart;
use super::box_tree::BoxTree;
use super::mesh::TaggedMesh;
use super::surface::Point3;
use std::f64::consts::PI;

/// Distance that surely keeps two surfaces apart, mm.
const HAIR: f64 = 1e-6;

/// A mesh with what the question needs, made once.
struct Member {
    mesh: TaggedMesh,
    bounds: (Point3, Point3),
    tree: Option<BoxTree>,
}

impl Member {
    fn tree(&mut self) -> &BoxTree {
        self.tree
            .get_or_insert_with(|| BoxTree::new(&self.mesh, HAIR))
    }
    /// Whether the other body, whose surface is clear of this one's, lies inside.
    fn holds(&self, other: &Self) -> bool {
        let (a, b) = (&self.bounds, &other.bounds);
        let within = (0..3).all(|k| a.0[k] <= b.0[k] && b.1[k] <= a.1[k]);
        within
            && other
                .mesh
                .triangles
                .first()
                .is_some_and(|t| surrounds(&self.mesh, &other.mesh.points[t[0] as usize]))
    }
}

/// Groups meshes so that the bodies of a group are apart, and joins each group into one mesh.
pub(crate) fn batches(meshes: Vec<TaggedMesh>) -> Vec<TaggedMesh> {
    let mut groups: Vec<Vec<Member>> = Vec::new();
    for mesh in meshes {
        let Some(bounds) = mesh.bounds() else {
            continue;
        };
        let mut new = Member {
            mesh,
            bounds,
            tree: None,
        };
        let free = groups
            .iter_mut()
            .position(|group| group.iter_mut().all(|m| apart(m, &mut new)));
        match free {
            Some(k) => groups[k].push(new),
            None => groups.push(vec![new]),
        }
    }
    groups
        .into_iter()
        .map(|group| {
            let mut all = TaggedMesh::default();
            for member in &group {
                all.append(&member.mesh);
            }
            all
        })
        .collect()
}

fn apart(a: &mut Member, b: &mut Member) -> bool {
    boxes_apart(&a.bounds, &b.bounds) || (!a.tree().meets(b.tree()) && !a.holds(b) && !b.holds(a))
}

/// Whether a point off the surface lies inside a closed mesh: the surface as seen from it covers
/// the whole sphere (solid angle of a triangle after A. van Oosterom and J. Strackee, 1983).
fn surrounds(mesh: &TaggedMesh, p: &Point3) -> bool {
    let mut seen = 0.0;
    for k in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(k).map(|v| v - p);
        let (l, m, n) = (a.norm(), b.norm(), c.norm());
        let below = l * m * n + a.dot(&b) * n + a.dot(&c) * m + b.dot(&c) * l;
        seen += 2.0 * a.dot(&b.cross(&c)).atan2(below);
    }
    seen.abs() > 2.0 * PI
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::{Form, ProfilePoint};
    use crate::sketch::{Contour, Point, Region, Vertex};
    use crate::solid::{Tolerance, form_mesh};

    /// A flat ring from radius `r` to `r + 2`.
    fn ring(r: f64, z: f64) -> TaggedMesh {
        let circle =
            |r: f64| Contour::new(vec![Vertex::new(r, 0.0, 1.0), Vertex::new(-r, 0.0, 1.0)]);
        let form = Form::Prism {
            region: Region {
                outer: circle(r + 2.0),
                holes: vec![circle(r).reversed()],
            },
            profile: vec![ProfilePoint::new(0.0, z), ProfilePoint::new(0.0, z + 1.0)],
        };
        form_mesh(&form, &Tolerance::default()).expect("a ring")
    }

    fn rod(r: f64, low: f64, high: f64) -> TaggedMesh {
        let form = Form::Turned {
            at: Point::new(0.0, 0.0),
            profile: vec![ProfilePoint::new(r, low), ProfilePoint::new(r, high)],
        };
        form_mesh(&form, &Tolerance::default()).expect("a rod")
    }

    #[test]
    fn rings_around_one_another_are_one_group() {
        let rings = vec![
            ring(5.0, 0.0),
            ring(9.0, 0.0),
            rod(3.0, -1.0, 2.0),
            ring(20.0, 0.0),
        ];
        let volume: f64 = rings.iter().map(TaggedMesh::volume).sum();
        let groups = batches(rings);
        assert_eq!(groups.len(), 1);
        assert!((groups[0].volume() - volume).abs() < 1e-9 * volume);
    }

    #[test]
    fn bodies_that_touch_cross_or_hold_one_another_are_not() {
        // Touching along a circle, crossing, one inside the other (given in either order).
        for pair in [
            [ring(5.0, 0.0), ring(7.0, 0.0)],
            [ring(5.0, 0.0), rod(5.0, -1.0, 2.0)],
            [rod(5.0, 0.0, 10.0), rod(2.0, 3.0, 7.0)],
            [rod(2.0, 3.0, 7.0), rod(5.0, 0.0, 10.0)],
        ] {
            assert_eq!(batches(pair.to_vec()).len(), 2);
        }
    }
}
