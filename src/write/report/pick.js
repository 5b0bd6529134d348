// Which feature is under a finger, and what is said of it: its callout, and the decisions
// behind its numbers, taken from the page's own table.

// The first face that a ray meets: {body, triangle}. Faces cut away are looked through.
function firstHit(bodies, { from, along }, liftOf, plane) {
  let best = null, nearest = Infinity;
  for (const b of bodies) {
    // The ray in the solid's own steps: corners stay whole numbers.
    const lift = [0, 0, liftOf(b)];
    const o = from.map((v, k) => (v - lift[k] - b.origin[k]) / b.step);
    const p = b.points, t = b.triangles;
    for (let i = 0; i < t.length; i += 3) {
      const [a, c, e] = [3 * t[i], 3 * t[i + 1], 3 * t[i + 2]];
      const ux = p[c] - p[a], uy = p[c + 1] - p[a + 1], uz = p[c + 2] - p[a + 2];
      const vx = p[e] - p[a], vy = p[e + 1] - p[a + 1], vz = p[e + 2] - p[a + 2];
      const hx = along[1] * vz - along[2] * vy, hy = along[2] * vx - along[0] * vz, hz = along[0] * vy - along[1] * vx;
      const det = ux * hx + uy * hy + uz * hz;
      if (Math.abs(det) < 1e-12) continue;
      const sx = o[0] - p[a], sy = o[1] - p[a + 1], sz = o[2] - p[a + 2];
      const f = (sx * hx + sy * hy + sz * hz) / det;
      if (f < 0 || f > 1) continue;
      const qx = sy * uz - sz * uy, qy = sz * ux - sx * uz, qz = sx * uy - sy * ux;
      const g = (along[0] * qx + along[1] * qy + along[2] * qz) / det;
      if (g < 0 || f + g > 1) continue;
      const way = ((vx * qx + vy * qy + vz * qz) / det) * b.step;
      if (way <= 0 || way >= nearest) continue;
      const n = plane && plane.equation;
      if (n && along.reduce((s, d, k) => s + n[k] * (from[k] + d * way), 0) > n[3]) continue;
      nearest = way;
      best = { body: b, triangle: i / 3 };
    }
  }
  return best;
}

// The list of features and the words about one. `chosen` is told when another is picked.
function makePicker(chosen) {
  const list = document.getElementById("feature"), panel = document.getElementById("picked");
  let bodies = [], listed = "", current = "";
  const name = (b, f) => b.key + "/" + (f ? f.tag : "");
  const find = (id) => {
    for (const b of bodies) {
      if (name(b) === id) return { body: b };
      for (const f of b.features) if (name(b, f) === id) return { body: b, feature: f };
    }
    return null;
  };
  const element = (kind, text, inside = []) => {
    const e = document.createElement(kind);
    if (text) e.textContent = text;
    e.append(...inside);
    return e;
  };
  function reasons(keys) {
    const rows = [...document.querySelectorAll("#decisions tr[data-key]")].filter((r) => keys.some((k) => r.dataset.key.startsWith(k)));
    return rows.flatMap((r) => {
      const cell = (column) => r.querySelector(`[data-column='${column}']`)?.textContent ?? "";
      const because = [cell("rule"), cell("inputs"), cell("source")].filter(Boolean).join(" · ");
      return [element("dt", `${r.dataset.key} = ${cell("value")}`), element("dd", because || "as the file says")];
    });
  }
  function tell(hit) {
    panel.hidden = !hit;
    if (!hit) return panel.replaceChildren();
    const { body, feature } = hit;
    const why = reasons(feature ? feature.why : body.why);
    const what = feature ? feature.text : body.note;
    panel.replaceChildren(
      element("h3", feature ? `${feature.tag} · ${feature.words} · ${body.label}` : body.label),
      ...(what ? [element("p", what)] : []),
      ...(why.length ? [element("details", "", [element("summary", "Reasons of its numbers"), element("dl", "", why)])] : []),
    );
    if (why.length) panel.querySelector("details").open = true;
  }
  function pick(id) {
    current = id;
    const hit = id ? find(id) : null;
    list.value = hit ? id : "";
    tell(hit);
    chosen(hit && hit.feature ? { body: hit.body, from: hit.feature.from, count: hit.feature.count } : hit && hit.body ? { body: hit.body, from: 0, count: 0 } : null);
  }
  list.addEventListener("change", () => pick(list.value));
  return {
    // Other solids: the same feature stays picked when it is still there.
    take(solids) {
      bodies = solids;
      const now = JSON.stringify(bodies.map((b) => [b.key, b.label, b.features.map((f) => [f.tag, f.words])]));
      if (now !== listed) {
        listed = now;
        const option = (value, text) => Object.assign(element("option", text), { value });
        const seen = new Set();
        list.replaceChildren(option("", "nothing"), ...bodies.filter((b) => !seen.has(b.key) && seen.add(b.key)).map((b) => {
          const own = b.features.map((f) => option(name(b, f), `${f.tag} · ${f.words}`));
          return Object.assign(element("optgroup", "", [option(name(b), "as a whole"), ...own]), { label: b.label });
        }));
      }
      pick(find(current) ? current : "");
    },
    // The decisions have come anew.
    again() {
      if (current) tell(find(current));
    },
    tapped(hit) {
      if (!hit) return pick("");
      const f = hit.body.features.find((f) => hit.triangle >= f.from && hit.triangle < f.from + f.count);
      pick(name(hit.body, f));
    },
  };
}
