"use strict";
// Where one looks from, and the matrices for it. Lengths in mm, z towards the nozzle.
const HOME = { yaw: -1.05, pitch: 0.5 };
const FIELD = 0.55; // vertical field of view, rad
function makeCamera() {
  const c = { yaw: HOME.yaw, pitch: HOME.pitch, distance: 300, target: [0, 0, 0], radius: 100, aspect: 1 };
  // Whole ball of the solids in the picture, whichever side is the shorter.
  c.fit = (centre, radius) => {
    c.target = centre.slice();
    c.radius = radius;
    const half = Math.atan(Math.tan(FIELD / 2) * Math.min(1, c.aspect));
    c.distance = radius / Math.sin(half);
  };
  c.axes = () => {
    const [sy, cy, sp, cp] = [Math.sin(c.yaw), Math.cos(c.yaw), Math.sin(c.pitch), Math.cos(c.pitch)];
    return { back: [cy * cp, sy * cp, sp], right: [-sy, cy, 0], up: [-cy * sp, -sy * sp, cp] };
  };
  c.turn = (dx, dy) => {
    c.yaw -= dx;
    c.pitch = Math.max(-1.5707, Math.min(1.5707, c.pitch + dy));
  };
  // Fractions of the picture's height.
  c.shift = (dx, dy) => {
    const { right, up } = c.axes();
    const size = 2 * c.distance * Math.tan(FIELD / 2);
    for (let k = 0; k < 3; k++) c.target[k] += (up[k] * dy - right[k] * dx) * size;
  };
  c.nearer = (factor) => {
    c.distance = Math.max(c.radius * 0.05, Math.min(c.radius * 40, c.distance * factor));
  };
  // Column by column: projection × view.
  c.matrix = () => {
    const { back, right, up } = c.axes();
    const eye = c.target.map((t, k) => t + back[k] * c.distance);
    const near = Math.max(c.distance - 4 * c.radius, c.distance / 100);
    const far = c.distance + 6 * c.radius;
    const f = 1 / Math.tan(FIELD / 2);
    const dot = (a) => a[0] * eye[0] + a[1] * eye[1] + a[2] * eye[2];
    const rows = [
      [...right, -dot(right)].map((v) => (v * f) / c.aspect),
      [...up, -dot(up)].map((v) => v * f),
      [...back, -dot(back)].map((v) => (v * (far + near)) / (near - far)),
      [...back, -dot(back)].map((v) => -v),
    ];
    rows[2][3] += (2 * far * near) / (near - far);
    const m = new Float32Array(16);
    for (let r = 0; r < 4; r++) for (let k = 0; k < 4; k++) m[4 * k + r] = rows[r][k];
    return { m, eye, back };
  };
  // The ray through a place of the picture, −1 to 1 from its middle: from, and a direction of length 1.
  c.ray = (x, y) => {
    const { back, right, up } = c.axes();
    const half = Math.tan(FIELD / 2);
    const way = back.map((b, k) => right[k] * x * half * c.aspect + up[k] * y * half - b);
    const long = Math.hypot(...way);
    return { from: c.target.map((t, k) => t + back[k] * c.distance), along: way.map((v) => v / long) };
  };
  return c;
}
