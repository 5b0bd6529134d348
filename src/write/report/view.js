// The 3-D view: draws only when something has changed. `show` takes the solids; shown again,
// others stand in their place and the camera stays where it is.
function makeView() {
  const stage = document.getElementById("stage");
  const gl = stage && stage.getContext("webgl2", { stencil: true, antialias: true });
  if (!gl) return null;
  const byId = (id) => document.getElementById(id);
  const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
  let bodies = [];
  const off = new Set(); // keys of solids that are switched off
  const unpack = (b) => {
    const indices = (t) => (b.width === 2 ? new Uint16Array(bytes(t)) : new Uint32Array(bytes(t)));
    const points = new Uint16Array(bytes(b.points));
    const low = [0, 1, 2].map(() => Infinity), high = [0, 1, 2].map(() => -Infinity);
    points.forEach((q, i) => {
      const v = b.origin[i % 3] + q * b.step;
      low[i % 3] = Math.min(low[i % 3], v);
      high[i % 3] = Math.max(high[i % 3], v);
    });
    return { ...b, points, triangles: indices(b.triangles), edges: indices(b.edges), low, high };
  };

  const POINT = `#version 300 es
    in vec3 place; uniform mat4 camera; uniform vec3 origin; uniform float size; uniform float lift;
    out vec3 world;
    void main() { world = origin + place * size + vec3(0., 0., lift); gl_Position = camera * vec4(world, 1.); }`;
  const FACE = `#version 300 es
    precision highp float;
    in vec3 world; uniform vec4 cut; uniform vec4 colour; uniform vec3 eye; uniform float hatch; out vec4 paint;
    void main() {
      if (hatch == 0. && dot(cut.xyz, world) > cut.w) discard;
      if (hatch != 0.) {
        float stripe = mod(gl_FragCoord.x * sign(hatch) + gl_FragCoord.y, abs(hatch));
        paint = vec4(stripe < abs(hatch) * .22 ? colour.rgb * .35 : mix(colour.rgb, vec3(1.), .35), 1.);
        return;
      }
      if (colour.a == 0.) { paint = vec4(colour.rgb, 1.); return; }
      vec3 n = normalize(cross(dFdx(world), dFdy(world)));
      float head = abs(dot(n, normalize(eye - world)));
      float sky = .5 + .5 * n.z * sign(dot(n, eye - world));
      paint = vec4(colour.rgb * (.36 + .42 * head + .24 * sky), 1.);
    }`;
  let program, at, squareBuffer, squareArray;
  function build() {
    program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, POINT], [gl.FRAGMENT_SHADER, FACE]]) {
      const s = gl.createShader(kind);
      gl.shaderSource(s, text);
      gl.compileShader(s);
      gl.attachShader(program, s);
    }
    gl.bindAttribLocation(program, 0, "place");
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS)) return false;
    at = {};
    for (const n of ["camera", "origin", "size", "lift", "cut", "colour", "eye", "hatch"]) at[n] = gl.getUniformLocation(program, n);
    squareArray = gl.createVertexArray();
    gl.bindVertexArray(squareArray);
    squareBuffer = store(gl.ARRAY_BUFFER, new Float32Array(12));
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 0, 0);
    gl.bindVertexArray(null);
    return true;
  }
  function store(kind, data) {
    const b = gl.createBuffer();
    gl.bindBuffer(kind, b);
    gl.bufferData(kind, data, gl.STATIC_DRAW);
    return b;
  }
  function load() {
    for (const b of bodies) {
      b.buffers = [];
      b.faces = gl.createVertexArray();
      b.lines = gl.createVertexArray();
      const points = store(gl.ARRAY_BUFFER, b.points);
      b.buffers.push(points);
      for (const [array, data] of [[b.faces, b.triangles], [b.lines, b.edges]]) {
        gl.bindVertexArray(array);
        gl.bindBuffer(gl.ARRAY_BUFFER, points);
        gl.enableVertexAttribArray(0);
        gl.vertexAttribPointer(0, 3, gl.UNSIGNED_SHORT, false, 6, 0);
        b.buffers.push(store(gl.ELEMENT_ARRAY_BUFFER, data));
        gl.bindVertexArray(null);
      }
      b.type = b.width === 2 ? gl.UNSIGNED_SHORT : gl.UNSIGNED_INT;
    }
  }
  function unload() {
    for (const b of bodies) {
      for (const x of b.buffers) gl.deleteBuffer(x);
      gl.deleteVertexArray(b.faces);
      gl.deleteVertexArray(b.lines);
    }
  }
  if (!build()) return null;

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

  const style = (name) => {
    const t = getComputedStyle(document.documentElement).getPropertyValue(name).trim();
    return [1, 3, 5].map((i) => parseInt(t.slice(i, i + 2), 16) / 255);
  };
  const colourOf = (b) => style("--" + (["plate-a", "plate-b", "shot", "part"].includes(b.key) ? b.key : "adaptor"));
  const draw = (b, array, mode, count) => {
    gl.uniform3fv(at.origin, b.origin);
    gl.uniform1f(at.size, b.step);
    gl.uniform1f(at.lift, (b.lift * apart()) / 2);
    gl.bindVertexArray(array);
    gl.drawElements(mode, count, b.type, 0);
  };
  const drawFaces = (b) => draw(b, b.faces, gl.TRIANGLES, b.triangles.length);

  // Where the cut runs through metal: count the kept faces along each ray, then paint the plane there.
  function drawCut(plane, shown) {
    const [u, v] = [(plane.k + 1) % 3, (plane.k + 2) % 3];
    const reach = camera.radius * 3;
    const corners = [[-1, -1], [1, -1], [-1, 1], [1, 1]].flatMap(([a, b]) => {
      const p = centre.slice();
      p[plane.k] = plane.place;
      p[u] += a * reach;
      p[v] += b * reach;
      return p;
    });
    gl.bindBuffer(gl.ARRAY_BUFFER, squareBuffer);
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(corners), gl.DYNAMIC_DRAW);
    gl.enable(gl.STENCIL_TEST);
    shown.forEach((b) => {
      gl.clear(gl.STENCIL_BUFFER_BIT);
      gl.disable(gl.DEPTH_TEST);
      gl.depthMask(false);
      gl.colorMask(false, false, false, false);
      gl.stencilFunc(gl.ALWAYS, 0, 255);
      gl.stencilOpSeparate(gl.FRONT, gl.KEEP, gl.KEEP, gl.DECR_WRAP);
      gl.stencilOpSeparate(gl.BACK, gl.KEEP, gl.KEEP, gl.INCR_WRAP);
      drawFaces(b);
      gl.enable(gl.DEPTH_TEST);
      gl.depthMask(true);
      gl.colorMask(true, true, true, true);
      gl.stencilFunc(gl.NOTEQUAL, 0, 255);
      gl.stencilOp(gl.KEEP, gl.KEEP, gl.KEEP);
      const pitch = 9 * Math.min(2, devicePixelRatio || 1);
      gl.uniform1f(at.hatch, b.lift > 0 ? pitch : b.lift < 0 ? -pitch : pitch / 2);
      gl.uniform4f(at.colour, ...colourOf(b), 1);
      gl.uniform3f(at.origin, 0, 0, 0);
      gl.uniform1f(at.size, 1);
      gl.uniform1f(at.lift, 0);
      gl.bindVertexArray(squareArray);
      gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
      gl.uniform1f(at.hatch, 0);
    });
    gl.disable(gl.STENCIL_TEST);
  }

  function paint() {
    if (gl.isContextLost()) return;
    const ratio = Math.min(2, devicePixelRatio || 1);
    const [w, h] = [stage.clientWidth, stage.clientHeight].map((v) => Math.max(1, Math.round(v * ratio)));
    if (stage.width !== w || stage.height !== h) [stage.width, stage.height] = [w, h];
    camera.aspect = w / h;
    const { m, eye } = camera.matrix();
    const plane = cutPlane();
    const shown = bodies.filter((b) => !off.has(b.key));
    gl.viewport(0, 0, w, h);
    gl.clearColor(...style("--stage"), 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT | gl.STENCIL_BUFFER_BIT);
    gl.useProgram(program);
    gl.uniformMatrix4fv(at.camera, false, m);
    gl.uniform3fv(at.eye, eye);
    gl.uniform4fv(at.cut, plane ? plane.equation : [0, 0, 0, 1]);
    gl.uniform1f(at.hatch, 0);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.polygonOffset(1, 2);
    for (const b of shown) {
      gl.uniform4f(at.colour, ...colourOf(b), 1);
      drawFaces(b);
    }
    if (plane) drawCut(plane, shown);
    gl.disable(gl.POLYGON_OFFSET_FILL);
    gl.uniform4f(at.colour, ...style("--edge"), 0);
    for (const b of shown) draw(b, b.lines, gl.LINES, b.edges.length);
    gl.bindVertexArray(null);
  }
  let waiting = false;
  function redraw() {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      paint();
    });
  }

  // Controls.
  const words = () => {
    byId("apart-text").textContent = apart().toFixed(0) + " mm";
    const plane = cutPlane();
    byId("cut-text").textContent = plane ? "xyz"[plane.k] + " = " + plane.place.toFixed(1) + " mm" : "";
    byId("cut-at").disabled = byId("cut-other").disabled = !plane;
    redraw();
  };
  for (const id of ["apart", "cut", "cut-at", "cut-other"]) byId(id).addEventListener("input", words);
  // A switch for each solid, made again only when there are others.
  let switched = "";
  function switches() {
    const now = JSON.stringify(bodies.map((b) => [b.key, b.label]));
    if (now === switched) return;
    switched = now;
    const field = byId("switches");
    for (const old of field.querySelectorAll("label")) old.remove();
    for (const b of bodies) {
      const label = document.createElement("label"), box = document.createElement("input"), swatch = document.createElement("span");
      Object.assign(box, { type: "checkbox", checked: !off.has(b.key) });
      box.dataset.body = b.key;
      swatch.className = "swatch " + b.key;
      label.append(box, swatch, b.label);
      field.append(label);
      box.addEventListener("change", () => {
        off[box.checked ? "delete" : "add"](b.key);
        redraw();
      });
    }
  }
  for (const b of document.querySelectorAll("[data-look]")) b.addEventListener("click", () => home(b.dataset.look));

  // Mouse and touch.
  const down = new Map();
  stage.addEventListener("pointerdown", (e) => {
    stage.setPointerCapture(e.pointerId);
    down.set(e.pointerId, [e.clientX, e.clientY]);
  });
  for (const end of ["pointerup", "pointercancel"]) stage.addEventListener(end, (e) => down.delete(e.pointerId));
  stage.addEventListener("pointermove", (e) => {
    const was = down.get(e.pointerId);
    if (!was) return;
    const now = [e.clientX, e.clientY];
    const [dx, dy] = [now[0] - was[0], now[1] - was[1]];
    const tall = stage.clientHeight;
    if (down.size === 2) {
      const other = [...down].find(([id]) => id !== e.pointerId)[1];
      const gap = (p) => Math.max(10, Math.hypot(p[0] - other[0], p[1] - other[1]));
      camera.nearer(gap(was) / gap(now));
      camera.shift(dx / 2 / tall, dy / 2 / tall);
    } else if (e.shiftKey || e.buttons > 1) {
      camera.shift(dx / tall, dy / tall);
    } else {
      camera.turn((dx / tall) * 3.5, (dy / tall) * 3.5);
    }
    down.set(e.pointerId, now);
    redraw();
  });
  stage.addEventListener("contextmenu", (e) => e.preventDefault());
  stage.addEventListener("wheel", (e) => {
    e.preventDefault();
    camera.nearer(Math.exp(Math.max(-60, Math.min(60, e.deltaY * (e.deltaMode ? 20 : 1))) * 0.004));
    redraw();
  }, { passive: false });
  stage.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.altKey || e.metaKey) return;
    const arrow = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
    if (arrow && e.shiftKey) camera.shift(arrow[0] * 0.04, arrow[1] * 0.04);
    else if (arrow) camera.turn(arrow[0] * 0.12, arrow[1] * 0.12);
    else if (e.key === "+" || e.key === "=") camera.nearer(0.88);
    else if (e.key === "-" || e.key === "_") camera.nearer(1 / 0.88);
    else if (e.key === "Home" || e.key === "0") home("home");
    else return;
    e.preventDefault();
    redraw();
  });

  const message = byId("view-message");
  const lost = "The 3-D view was lost by the graphics driver; it comes back by itself, or load the page again.";
  stage.addEventListener("webglcontextlost", (e) => {
    e.preventDefault();
    message.textContent = lost;
    message.hidden = false;
  });
  stage.addEventListener("webglcontextrestored", () => {
    message.hidden = build();
    load();
    redraw();
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  return {
    show(solids) {
      const first = !bodies.length;
      unload();
      bodies = solids.map(unpack);
      byId("view").hidden = !bodies.length;
      message.hidden = !!bodies.length;
      if (!bodies.length) return;
      load();
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
    camera,
  };
}
