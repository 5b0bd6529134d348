//! One small picture of what is made, for a list of files.
//!
//! Input: the solids. Output: a PNG, seen from above at the angle the 3-D view begins with. The
//! half with the nozzle is left out, so that the part is seen in the other one.

use super::Scene;
use crate::design::Side;
use nalgebra::Vector3;

/// Width and height, pixels.
const SIZE: [usize; 2] = [440, 300];
/// Rows and columns that are drawn for one pixel.
const FINER: usize = 2;
/// Share of the picture that is left free around.
const MARGIN: f64 = 0.06;
/// Direction of the eye about the nozzle's axis and above the plates, rad; as `camera.js`.
const LOOK: [f64; 2] = [-1.05, 0.5];

/// Red, green, blue: the report's in daylight.
fn colour(side: Option<Side>) -> [f64; 3] {
    let [r, g, b] = match side {
        None => [200, 80, 30],
        Some(Side::A) => [95, 134, 173],
        Some(Side::B | Side::Sheet) => [210, 184, 120],
        Some(Side::Core | Side::Island | Side::Pin) => [125, 156, 110],
        Some(Side::Adaptor | Side::Reducer) => [139, 150, 145],
    };
    [r, g, b].map(f64::from)
}

/// The picture; empty when there is nothing to see.
pub fn picture(scene: &Scene<'_>) -> Vec<u8> {
    let side = |name: &str| {
        let plate = scene.design.plates.iter().find(|p| p.name == name);
        plate.map(|p| p.side)
    };
    let shot = scene.meshes.iter().any(|(n, _)| n == "shot");
    let several = scene.design.plates.len() > 1;
    let seen: Vec<_> = (scene.meshes.iter())
        .map(|(name, mesh)| (side(name), name, mesh))
        .filter(|(side, name, _)| match side {
            Some(Side::A) => !several,
            Some(_) => true,
            None => !(shot && *name == "part"),
        })
        .collect();
    let ([sy, cy], [sp, cp]) = (
        [LOOK[0].sin(), LOOK[0].cos()],
        [LOOK[1].sin(), LOOK[1].cos()],
    );
    let back = Vector3::new(cy * cp, sy * cp, sp);
    let (right, up) = (
        Vector3::new(-sy, cy, 0.0),
        Vector3::new(-cy * sp, -sy * sp, cp),
    );
    let flat =
        |p: &nalgebra::Point3<f64>| [p.coords.dot(&right), p.coords.dot(&up), p.coords.dot(&back)];
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for p in seen.iter().flat_map(|(.., m)| &m.points) {
        let at = flat(p);
        for k in 0..2 {
            low[k] = low[k].min(at[k]);
            high[k] = high[k].max(at[k]);
        }
    }
    let (w, h) = (SIZE[0] * FINER, SIZE[1] * FINER);
    let room = [w, h].map(|s| s as f64 * (1.0 - 2.0 * MARGIN));
    let scale = (0..2)
        .map(|k| room[k] / (high[k] - low[k]))
        .fold(f64::INFINITY, f64::min);
    if !(scale.is_finite() && scale > 0.0) {
        return Vec::new();
    }
    let middle = [0, 1].map(|k| 0.5 * (low[k] + high[k]));
    let mut canvas = Canvas {
        size: [w, h],
        depth: vec![f64::NEG_INFINITY; w * h],
        colour: vec![[0.0; 3]; w * h],
    };
    for (side, _, mesh) in &seen {
        let own = colour(*side);
        let at: Vec<[f64; 3]> = (mesh.points.iter())
            .map(|p| {
                let [x, y, z] = flat(p);
                [
                    0.5 * w as f64 + (x - middle[0]) * scale,
                    0.5 * h as f64 - (y - middle[1]) * scale,
                    z,
                ]
            })
            .collect();
        for (t, corners) in mesh.triangles.iter().enumerate() {
            let [a, b, c] = mesh.corners(t);
            let normal = (b - a).cross(&(c - a));
            let long = normal.norm();
            if long > 0.0 && normal.dot(&back) > 0.0 {
                // As bright as in the 3-D view.
                let (head, sky) = (normal.dot(&back) / long, 0.5 + 0.5 * normal.z / long);
                let light = 0.36 + 0.42 * head + 0.24 * sky;
                canvas.triangle(corners.map(|i| at[i as usize]), own.map(|v| v * light));
            }
        }
    }
    png(&canvas)
}

/// What is nearest in each place.
struct Canvas {
    size: [usize; 2],
    depth: Vec<f64>,
    colour: Vec<[f64; 3]>,
}

impl Canvas {
    /// A triangle in pixels, its third number towards the eye.
    fn triangle(&mut self, [a, b, c]: [[f64; 3]; 3], colour: [f64; 3]) {
        let [w, h] = self.size;
        let area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        if area == 0.0 {
            return;
        }
        let span = |k: usize, most: usize| {
            let all = [a[k], b[k], c[k]];
            let from = all.into_iter().fold(f64::INFINITY, f64::min).floor();
            let to = all.into_iter().fold(0.0, f64::max).ceil();
            (from.max(0.0) as usize, (to as usize).min(most))
        };
        let ((x0, x1), (y0, y1)) = (span(0, w), span(1, h));
        for y in y0..y1 {
            for x in x0..x1 {
                let (px, py) = (x as f64 + 0.5, y as f64 + 0.5);
                let part = |p: [f64; 3], q: [f64; 3]| {
                    ((q[0] - p[0]) * (py - p[1]) - (q[1] - p[1]) * (px - p[0])) / area
                };
                let [u, v, s] = [part(b, c), part(c, a), part(a, b)];
                if u < 0.0 || v < 0.0 || s < 0.0 {
                    continue;
                }
                let (z, at) = (u * a[2] + v * b[2] + s * c[2], y * w + x);
                if z > self.depth[at] {
                    self.depth[at] = z;
                    self.colour[at] = colour;
                }
            }
        }
    }
}

/// Smaller, with edges that are smoothed into what lies behind the picture.
fn png(canvas: &Canvas) -> Vec<u8> {
    let mut pixels = Vec::with_capacity(SIZE[0] * SIZE[1] * 4);
    for y in 0..SIZE[1] {
        for x in 0..SIZE[0] {
            let (mut sum, mut full) = ([0.0; 3], 0.0);
            for k in 0..FINER * FINER {
                let at = (y * FINER + k / FINER) * canvas.size[0] + x * FINER + k % FINER;
                if canvas.depth[at] > f64::NEG_INFINITY {
                    full += 1.0;
                    (0..3).for_each(|c| sum[c] += canvas.colour[at][c]);
                }
            }
            let byte = |v: f64| v.round().clamp(0.0, 255.0) as u8;
            pixels.extend(sum.map(|v| byte(v / f64::max(full, 1.0))));
            pixels.push(byte(255.0 * full / (FINER * FINER) as f64));
        }
    }
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, SIZE[0] as u32, SIZE[1] as u32);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    let written = encoder
        .write_header()
        .and_then(|mut w| w.write_image_data(&pixels));
    // Into memory, and as many pixels as were said: this cannot fail.
    written.map(|()| out).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;
    use crate::solid::TaggedMesh;
    use nalgebra::Point3;

    #[test]
    fn what_is_nearer_covers_what_is_behind() {
        // Two squares above each other: the upper one, the shot, is smaller.
        let square = |half: f64, z: f64| TaggedMesh {
            points: [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]
                .map(|[x, y]| Point3::new(x * half, y * half, z))
                .to_vec(),
            triangles: vec![[0, 1, 2], [0, 2, 3]],
            ..TaggedMesh::default()
        };
        let design = sample::design();
        let below = design.plates.iter().find(|p| p.side == Side::B);
        let name = below.expect("a B plate").name.clone();
        for turned in [false, true] {
            let mut meshes = vec![
                (name.clone(), square(10.0, 0.0)),
                ("shot".to_owned(), square(3.0, 0.1)),
            ];
            if turned {
                meshes.reverse();
            }
            let bytes = picture(&Scene {
                design: &design,
                solids: &[],
                meshes: &meshes,
                marked: &[],
            });
            let mut reader = png::Decoder::new(std::io::Cursor::new(bytes))
                .read_info()
                .expect("a PNG");
            let mut pixels = vec![0; SIZE[0] * SIZE[1] * 4];
            reader.next_frame(&mut pixels).expect("its pixels");
            let pixel = |x: usize, y: usize| {
                let at = (y * SIZE[0] + x) * 4;
                [0, 1, 2, 3].map(|k| u32::from(pixels[at + k]))
            };
            let middle = pixel(SIZE[0] / 2, SIZE[1] / 2);
            assert!(middle[0] > 2 * middle[1] && middle[3] == 255, "{middle:?}");
            let beside = pixel(SIZE[0] / 2, SIZE[1] / 4);
            assert!(
                beside[1] > beside[2] && beside[0] < 2 * beside[1],
                "{beside:?}"
            );
            assert_eq!(pixel(2, 2)[3], 0);
        }
    }
}
