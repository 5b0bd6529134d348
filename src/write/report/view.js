// The 3-D view: draws only when something has changed. `show` takes the solids; shown again,
// others stand in their place and the camera stays where it is. `fill` takes the melt's arrival.
// Where pictures take long (drawn in software, an old machine), a quick and smaller one comes first, and the sharp one when nothing has moved for a while.
const SLOW = 40; // a sharp picture that takes longer waits, ms
const REST = 400; // so long nothing must move before it, ms
function makeView() {
  const stage = document.getElementById("stage");
  const gl = stage && stage.getContext("webgl2", { stencil: true, antialias: false });
  const painter = gl && makePainter(gl);
  if (!painter) return null;
  const byId = (id) => document.getElementById(id);
  const bytes = (text) => {
    const letters = atob(text), out = new Uint8Array(letters.length);
    for (let i = 0; i < out.length; i++) out[i] = letters.charCodeAt(i);
    return out;
  };
  const palette = new Map();
  const style = (name) => {
    if (!palette.has(name)) {
      const t = getComputedStyle(document.documentElement).getPropertyValue(name).trim();
      palette.set(name, [1, 3, 5].map((i) => parseInt(t.slice(i, i + 2), 16) / 255));
    }
    return palette.get(name);
  };
  let bodies = [], map = null, picked = null;
  const off = new Set(); // keys of solids and names of marked areas that are switched off
  const unpack = (b) => {
    const indices = (t) => (b.width === 2 ? new Uint16Array(bytes(t).buffer) : new Uint32Array(bytes(t).buffer));
    const points = new Uint16Array(bytes(b.points).buffer);
    const most = [0, 0, 0];
    for (let i = 0; i < points.length; i++) if (points[i] > most[i % 3]) most[i % 3] = points[i];
    // The origin is the lower corner.
    const low = b.origin, high = most.map((q, k) => low[k] + q * b.step);
    const marks = b.marks.map((m) => ({ ...m, triangles: indices(m.triangles) }));
    return { ...b, points, triangles: indices(b.triangles), edges: indices(b.edges), marks, low, high };
  };

  // Extent of the closed mold; pulled apart, the plates move by up to its height.
  let low = [0, 0, 0], high = [1, 1, 1], centre = [0, 0, 0], mostApart = 0;
  function measure() {
    const span = (k, f, side) => Math[f](...bodies.map((b) => b[side][k]));
    low = [0, 1, 2].map((k) => span(k, "min", "low"));
    high = [0, 1, 2].map((k) => span(k, "max", "high"));
    centre = low.map((v, k) => (v + high[k]) / 2);
    mostApart = bodies.some((b) => b.lift) ? (high[2] - low[2]) * 1.2 : 0;
    byId("apart-field").hidden = !mostApart;
  }
  const apart = () => (mostApart * byId("apart").value) / 100;
  const liftOf = (b) => (b.lift * apart()) / 2;
  const camera = makeCamera();
  const radius = () => Math.hypot(...high.map((v, k) => (v - low[k]) / 2 + (k === 2 ? apart() / 2 : 0)));
  const home = (look) => {
    const [yaw, pitch] = { nozzle: [-Math.PI / 2, 1.5707], below: [-Math.PI / 2, -1.5707], front: [-Math.PI / 2, 0] }[look] || [HOME.yaw, HOME.pitch];
    Object.assign(camera, { yaw, pitch });
    camera.fit(centre, radius() * 1.02);
    redraw();
  };
  const cutPlane = () => {
    const axis = byId("cut").value;
    if (axis === "") return null;
    const k = Number(axis);
    const grow = k === 2 ? apart() / 2 : 0;
    const [from, to] = [low[k] - grow, high[k] + grow];
    const place = from + ((to - from) * byId("cut-at").value) / 1000;
    // The near side of the start view is taken away: +x, −y, +z.
    const sense = (k === 1 ? -1 : 1) * (byId("cut-other").checked ? -1 : 1);
    const n = [0, 0, 0];
    n[k] = sense;
    return { k, place, equation: [...n, sense * place] };
  };
  const shown = () => bodies.filter((b) => !off.has(b.key));
  // −1: the melt front is not shown. A little more than the last arrival at the right end.
  const front = () => (map && byId("melt-on").checked ? (byId("melt-at").value / byId("melt-at").max) * 1.001 : -1);
  const tone = (b) => (["plate-a", "plate-b", "shot", "part"].includes(b.key) ? b.key : b.key.startsWith("hardware") ? "hardware" : b.key.startsWith("core") ? "core" : "adaptor");

  // What there is to draw, at a share of the screen's own dots.
  function scene(share) {
    const ratio = Math.min(2, devicePixelRatio || 1) * share;
    const size = [stage.clientWidth, stage.clientHeight].map((v) => Math.max(1, Math.round(v * ratio)));
    camera.aspect = size[0] / size[1];
    const { m, eye } = camera.matrix();
    for (const b of bodies) {
      b.colour = style("--" + tone(b));
      for (const k of b.marks) Object.assign(k, { on: !off.has(k.name), colour: style("--" + k.kind) });
    }
    return {
      size, ratio, matrix: m, eye, centre, reach: camera.radius * 3, plane: cutPlane(), shown: shown(),
      apart: apart(), front: front(), picked, ground: style("--stage"), edge: style("--edge"), pickedColour: style("--picked"),
    };
  }
  const fit = ([w, h]) => {
    if (stage.width !== w || stage.height !== h) [stage.width, stage.height] = [w, h];
  };
  function quick() {
    if (gl.isContextLost()) return;
    const now = scene(Math.max(1 / 3, Math.min(0.7, Math.sqrt(SLOW / cost))));
    fit(now.size);
    painter.frame(now);
    stage.dataset.picture = "quick";
  }
  // In strips where it takes long, so that whatever comes meanwhile waits for one strip only.
  function sharp() {
    const now = scene(1), mine = ++turn, strips = Math.min(16, Math.max(1, Math.ceil(cost / SLOW)));
    let spent = 0;
    const strip = (k) => {
      if (gl.isContextLost()) return;
      painter.fine(now, k / strips, (k + 1) / strips);
      if (k + 1 === strips) {
        fit(now.size);
        painter.present(now.size);
        stage.dataset.picture = "sharp";
      }
      painter.finished((ms) => {
        spent += ms;
        if (k + 1 === strips) cost = spent;
        else if (mine === turn) strip(k + 1);
      });
    };
    strip(0);
  }
  let waiting = false, later = 0, turn = 0;
  let cost = 0; // milliseconds that the last sharp picture took
  function redraw() {
    clearTimeout(later);
    stage.dataset.picture = "due";
    turn += 1;
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      if (cost <= SLOW) return sharp();
      quick();
      later = setTimeout(sharp, REST);
    });
  }

  // Controls.
  const words = () => {
    const inch = document.documentElement.dataset.units === "inch";
    const length = (mm, places) => (inch ? (mm / 25.4).toFixed(3) + " in" : mm.toFixed(places) + " mm");
    byId("apart-text").textContent = length(apart(), 0);
    const plane = cutPlane();
    byId("cut-text").textContent = plane ? "xyz"[plane.k] + " = " + length(plane.place, 1) : "";
    byId("cut-at").disabled = byId("cut-other").disabled = !plane;
    byId("melt-field").hidden = !map;
    byId("melt-at").disabled = front() < 0;
    byId("melt-text").textContent = front() < 0 ? "" : ((map.last * byId("melt-at").value) / byId("melt-at").max).toFixed(2) + " s";
    redraw();
  };
  for (const id of ["apart", "cut", "cut-at", "cut-other", "melt-on", "melt-at"]) byId(id).addEventListener("input", words);
  // A switch for each solid and each kind of marked area, made again only when there are others.
  let switched = "";
  function switches() {
    const all = new Map(bodies.map((b) => [b.key, [b.label, tone(b)]]));
    for (const m of bodies.flatMap((b) => b.marks)) all.set(m.name, [m.name, m.kind]);
    const now = JSON.stringify([...all]);
    if (now === switched) return;
    switched = now;
    const field = byId("switches");
    for (const old of field.querySelectorAll("label")) old.remove();
    for (const [key, [text, kind]] of all) {
      const label = document.createElement("label"), box = document.createElement("input"), swatch = document.createElement("span");
      Object.assign(box, { type: "checkbox", checked: !off.has(key) });
      box.dataset.body = key;
      swatch.className = "swatch " + kind;
      label.append(box, swatch, text);
      field.append(label);
      box.addEventListener("change", () => {
        off[box.checked ? "delete" : "add"](key);
        redraw();
      });
    }
  }
  for (const b of document.querySelectorAll("[data-look]")) b.addEventListener("click", () => home(b.dataset.look));
  const picker = makePicker((what) => {
    picked = what;
    redraw();
  });
  makeHand(stage, camera, {
    did: redraw,
    home,
    tap: (x, y) => picker.tapped(firstHit(shown(), camera.ray(x, y), liftOf, cutPlane())),
  });

  const message = byId("view-message");
  stage.addEventListener("webglcontextlost", (e) => {
    e.preventDefault();
    message.textContent = "The 3-D view was lost by the graphics driver; it comes back by itself, or load the page again.";
    message.hidden = false;
  });
  stage.addEventListener("webglcontextrestored", () => {
    message.hidden = painter.build();
    bodies.forEach(painter.load);
    painter.arrivals(map);
    redraw();
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    palette.clear();
    redraw();
  });
  return {
    show(solids) {
      const first = !bodies.length;
      bodies.forEach(painter.unload);
      bodies = solids.map(unpack);
      byId("view").hidden = !bodies.length;
      message.hidden = !!bodies.length;
      picker.take(bodies);
      if (!bodies.length) return;
      bodies.forEach(painter.load);
      measure();
      switches();
      if (first) {
        camera.aspect = stage.clientWidth / Math.max(1, stage.clientHeight);
        new ResizeObserver(redraw).observe(stage);
        home("home");
      } else {
        camera.radius = radius() * 1.02;
      }
      words();
    },
    fill(arrival) {
      map = arrival && { ...arrival, bytes: bytes(arrival.times) };
      painter.arrivals(map);
      words();
    },
    reasons: picker.again,
    camera,
  };
}
