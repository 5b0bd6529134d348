// Draws solids with WebGL 2: faces, edges, hatched cuts, what is picked or marked, the melt front.
// `null` where it cannot be had. Lengths in mm; knows nothing of controls.
const MOST_CAVITIES = 32;
function makePainter(gl) {
  const POINT = `#version 300 es
    in vec3 place; uniform mat4 camera; uniform vec3 origin; uniform float size; uniform float lift;
    out vec3 world;
    void main() { world = origin + place * size + vec3(0., 0., lift); gl_Position = camera * vec4(world, 1.); }`;
  // `hatch`: 0 = solid faces, else the pitch of a cut's hatch. `mark`: 1 stripes, 2 dots.
  // `front`: time of the melt front as a share of the fill, below 0 = not shown.
  const FACE = `#version 300 es
    precision highp float; precision highp int;
    in vec3 world; out vec4 paint;
    uniform vec4 cut; uniform vec4 colour; uniform vec3 eye; uniform float hatch; uniform float mark;
    uniform float front; uniform sampler2D arrival; uniform vec4 grid; uniform vec4 cavities[${MOST_CAVITIES}]; uniform int count;
    vec3 melt(vec3 plain) {
      float v = 1.;
      for (int i = 0; i < ${MOST_CAVITIES}; i++) {
        if (i >= count) break;
        vec2 d = world.xy - cavities[i].xy;
        vec2 at = (vec2(cavities[i].z * d.x + cavities[i].w * d.y, cavities[i].z * d.y - cavities[i].w * d.x) - grid.xy) * grid.zw;
        if (at.x < 0. || at.y < 0. || at.x >= 1. || at.y >= 1.) continue;
        float here = floor(texture(arrival, at).r * 255. + .5);
        if (here > 0.) v = here;
      }
      float t = (v - 1.) / 253.;
      if (v > 254. || t > front) return mix(plain, vec3(.5 + .5 * step(.5, fract((gl_FragCoord.x + gl_FragCoord.y) / 8.))), .75);
      float band = min(floor(t * 12.), 11.) / 11. * 3.;
      vec3 a = vec3(38., 36., 84.), b = vec3(32., 112., 132.), c = vec3(122., 176., 112.), e = vec3(248., 228., 150.);
      return (band < 1. ? mix(a, b, band) : band < 2. ? mix(b, c, band - 1.) : mix(c, e, band - 2.)) / 255.;
    }
    void main() {
      if (hatch == 0. && dot(cut.xyz, world) > cut.w) discard;
      if (hatch != 0.) {
        float stripe = mod(gl_FragCoord.x * sign(hatch) + gl_FragCoord.y, abs(hatch));
        paint = vec4(stripe < abs(hatch) * .22 ? colour.rgb * .35 : mix(colour.rgb, vec3(1.), .35), 1.);
        return;
      }
      if (colour.a == 0.) { paint = vec4(colour.rgb, 1.); return; }
      vec3 own = front < 0. ? colour.rgb : melt(colour.rgb);
      if (mark == 1. && fract((gl_FragCoord.x - gl_FragCoord.y) / 10.) < .3) own = mix(own, vec3(1.), .7);
      if (mark == 2. && length(fract(gl_FragCoord.xy / 9.) - .5) < .26) own = mix(own, vec3(1.), .7);
      vec3 n = normalize(cross(dFdx(world), dFdy(world)));
      float head = abs(dot(n, normalize(eye - world)));
      float sky = .5 + .5 * n.z * sign(dot(n, eye - world));
      paint = vec4(own * (.36 + .42 * head + .24 * sky), 1.);
    }`;
  let program, at, squareBuffer, squareArray, texture, aside, asideSize;
  function store(kind, data) {
    const b = gl.createBuffer();
    gl.bindBuffer(kind, b);
    gl.bufferData(kind, data, gl.STATIC_DRAW);
    return b;
  }
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
    for (const n of ["camera", "origin", "size", "lift", "cut", "colour", "eye", "hatch", "mark", "front", "arrival", "grid", "cavities", "count"])
      at[n] = gl.getUniformLocation(program, n);
    squareArray = gl.createVertexArray();
    gl.bindVertexArray(squareArray);
    squareBuffer = store(gl.ARRAY_BUFFER, new Float32Array(12));
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 0, 0);
    gl.bindVertexArray(null);
    texture = gl.createTexture();
    arrivals(null);
    aside = asideSize = null;
    return true;
  }
  // Times of arrival as bytes: 0 no plastic, 1 to 254 a share of the fill, 255 not filled.
  function arrivals(map) {
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    const [w, h] = map ? map.size : [1, 1];
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.R8, w, h, 0, gl.RED, gl.UNSIGNED_BYTE, map ? map.bytes : new Uint8Array(1));
    for (const [name, value] of [["MIN_FILTER", "NEAREST"], ["MAG_FILTER", "NEAREST"], ["WRAP_S", "CLAMP_TO_EDGE"], ["WRAP_T", "CLAMP_TO_EDGE"]])
      gl.texParameteri(gl.TEXTURE_2D, gl["TEXTURE_" + name], gl[value]);
    if (!map) return;
    gl.useProgram(program);
    gl.uniform4f(at.grid, ...map.origin, 1 / (map.pitch * w), 1 / (map.pitch * h));
    const places = map.cavities.slice(0, MOST_CAVITIES);
    gl.uniform4fv(at.cavities, new Float32Array(places.flat()));
    gl.uniform1i(at.count, places.length);
  }
  function load(b) {
    const points = store(gl.ARRAY_BUFFER, b.points);
    b.buffers = [points];
    const array = (data) => {
      const a = gl.createVertexArray();
      gl.bindVertexArray(a);
      gl.bindBuffer(gl.ARRAY_BUFFER, points);
      gl.enableVertexAttribArray(0);
      gl.vertexAttribPointer(0, 3, gl.UNSIGNED_SHORT, false, 6, 0);
      b.buffers.push(store(gl.ELEMENT_ARRAY_BUFFER, data));
      gl.bindVertexArray(null);
      return a;
    };
    b.faces = array(b.triangles);
    b.lines = array(b.edges);
    for (const m of b.marks) m.faces = array(m.triangles);
    b.type = b.width === 2 ? gl.UNSIGNED_SHORT : gl.UNSIGNED_INT;
  }
  function unload(b) {
    for (const x of b.buffers) gl.deleteBuffer(x);
    for (const a of [b.faces, b.lines, ...b.marks.map((m) => m.faces)]) gl.deleteVertexArray(a);
  }
  let apart = 0;
  function draw(b, array, mode, count, from = 0) {
    gl.uniform3fv(at.origin, b.origin);
    gl.uniform1f(at.size, b.step);
    gl.uniform1f(at.lift, (b.lift * apart) / 2);
    gl.bindVertexArray(array);
    gl.drawElements(mode, count, b.type, from * b.width);
  }
  const drawFaces = (b) => draw(b, b.faces, gl.TRIANGLES, b.triangles.length);

  // Where the cut runs through metal: count the kept faces along each ray, then paint the plane there.
  function drawCut({ plane, shown, centre, reach, ratio }) {
    const [u, v] = [(plane.k + 1) % 3, (plane.k + 2) % 3];
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
    for (const b of shown) {
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
      const pitch = 9 * ratio;
      gl.uniform1f(at.hatch, b.lift > 0 ? pitch : b.lift < 0 ? -pitch : pitch / 2);
      gl.uniform4f(at.colour, ...b.colour, 1);
      gl.uniform3f(at.origin, 0, 0, 0);
      gl.uniform1f(at.size, 1);
      gl.uniform1f(at.lift, 0);
      gl.bindVertexArray(squareArray);
      gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
      gl.uniform1f(at.hatch, 0);
    }
    gl.disable(gl.STENCIL_TEST);
  }

  // Four samples a pixel, beside the picture itself.
  function oversample([w, h]) {
    if (asideSize && asideSize[0] === w && asideSize[1] === h) return;
    if (aside) aside.buffers.forEach((b) => gl.deleteRenderbuffer(b));
    else aside = { frame: gl.createFramebuffer() };
    asideSize = [w, h];
    gl.bindFramebuffer(gl.FRAMEBUFFER, aside.frame);
    aside.buffers = [[gl.RGBA8, gl.COLOR_ATTACHMENT0], [gl.DEPTH24_STENCIL8, gl.DEPTH_STENCIL_ATTACHMENT]].map(([format, place]) => {
      const b = gl.createRenderbuffer();
      gl.bindRenderbuffer(gl.RENDERBUFFER, b);
      gl.renderbufferStorageMultisample(gl.RENDERBUFFER, 4, format, w, h);
      gl.framebufferRenderbuffer(gl.FRAMEBUFFER, place, gl.RENDERBUFFER, b);
      return b;
    });
  }
  // Calls `then` with the milliseconds that it takes until all has been drawn.
  function finished(then) {
    const begun = performance.now(), fence = gl.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0);
    gl.flush();
    const look = () => {
      if (gl.isContextLost()) return;
      if (gl.getSyncParameter(fence, gl.SYNC_STATUS) !== gl.SIGNALED) return void setTimeout(look, 5);
      gl.deleteSync(fence);
      then(performance.now() - begun);
    };
    setTimeout(look);
  }

  // A picture of `scene`: size, ratio, camera matrix and eye, plane, shown bodies with colours,
  // apart, front (share of the fill or −1), picked {body, from, count} with its colour.
  function frame(scene) {
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    drawn(scene);
  }
  // A strip of a smooth picture, kept aside until it is presented; from and to as shares of its height.
  function fine(scene, from, to) {
    const [w, h] = scene.size, [low, high] = [from, to].map((share) => Math.round(share * h));
    oversample(scene.size);
    gl.bindFramebuffer(gl.FRAMEBUFFER, aside.frame);
    gl.enable(gl.SCISSOR_TEST);
    gl.scissor(0, low, w, high - low);
    drawn(scene);
    gl.disable(gl.SCISSOR_TEST);
  }
  function present(size) {
    gl.bindFramebuffer(gl.READ_FRAMEBUFFER, aside.frame);
    gl.bindFramebuffer(gl.DRAW_FRAMEBUFFER, null);
    const all = [0, 0, ...size];
    gl.blitFramebuffer(...all, ...all, gl.COLOR_BUFFER_BIT, gl.NEAREST);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
  }
  function drawn(scene) {
    const { shown, plane, picked } = scene;
    apart = scene.apart;
    gl.viewport(0, 0, ...scene.size);
    gl.clearColor(...scene.ground, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT | gl.STENCIL_BUFFER_BIT);
    gl.useProgram(program);
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.uniformMatrix4fv(at.camera, false, scene.matrix);
    gl.uniform3fv(at.eye, scene.eye);
    gl.uniform4fv(at.cut, plane ? plane.equation : [0, 0, 0, 1]);
    for (const n of ["hatch", "mark"]) gl.uniform1f(at[n], 0);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.polygonOffset(1, 2);
    for (const b of shown) {
      gl.uniform4f(at.colour, ...b.colour, 1);
      gl.uniform1f(at.front, b.key === "shot" ? scene.front : -1);
      drawFaces(b);
    }
    gl.uniform1f(at.front, -1);
    for (const b of shown) {
      for (const m of b.marks.filter((m) => m.on)) {
        gl.uniform1f(at.mark, m.kind === "undercut" ? 1 : 2);
        gl.uniform4f(at.colour, ...m.colour, 1);
        draw(b, m.faces, gl.TRIANGLES, m.triangles.length);
      }
    }
    gl.uniform1f(at.mark, 0);
    if (picked && shown.includes(picked.body)) {
      gl.uniform4f(at.colour, ...scene.pickedColour, 1);
      draw(picked.body, picked.body.faces, gl.TRIANGLES, picked.count * 3, picked.from * 3);
    }
    if (plane) drawCut(scene);
    gl.disable(gl.POLYGON_OFFSET_FILL);
    gl.uniform4f(at.colour, ...scene.edge, 0);
    for (const b of shown) draw(b, b.lines, gl.LINES, b.edges.length);
    gl.bindVertexArray(null);
  }
  return build() ? { build, load, unload, arrivals, frame, fine, present, finished } : null;
}
