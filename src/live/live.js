// The page follows the file: parts come in as they change, the camera stays where it is.
(() => {
  const byId = (id) => document.getElementById(id);
  const { key, file } = document.body.dataset;
  const view = makeView();
  let state = { phase: "away", moved: [], base: "" };
  let waiting = new Map(); // numbers moved here, by key, not yet told
  let asking = false;

  const words = {
    checking: (s) => "The solids are those of " + source(s) + after(s) + "; findings and fill are being computed …",
    filling: (s) => "Solids and findings are those of " + source(s) + after(s) + "; the fill is being computed …",
    done: (s) => "Everything is that of " + source(s) + after(s) + ".",
    broken: (s) => (s.moved.length ? "These numbers cannot be made" : "The file has a fault") + "; the last good state is shown.",
    gone: (s) => "The file cannot be followed: " + s.why + ". The last state is shown; it goes on when the file is back.",
    away: () => "Nothing is heard from the program; trying again. If it was stopped, start it again.",
    ended: () => "The program has ended. The last state is shown.",
  };
  const source = (s) => (s.moved.length ? "moved numbers that are not in the file" : "the file");
  const after = (s) => (s.ms === null ? "" : ", " + Math.max(1, Math.round(s.ms)) + " ms after the change");
  function showState() {
    const line = byId("state");
    line.textContent = words[state.phase](state);
    line.dataset.phase = state.phase;
    const fresh = ["done", "ended"].includes(state.phase);
    for (const id of ["fill", "process"]) byId(id).classList.toggle("old", !fresh);
    for (const id of ["verdict", "findings"]) byId(id).classList.toggle("old", !fresh && state.phase !== "filling");
    const moved = state.moved.length > 0;
    byId("write").disabled = !moved || state.phase === "broken";
    byId("drop").disabled = !moved;
    for (const row of byId("list").children) row.classList.toggle("moved", state.moved.includes(row.dataset.number));
  }

  const into = (id) => (markup) => { byId(id).innerHTML = markup; };
  const take = {
    state(s) {
      state = s;
      showState();
      document.documentElement.dataset.shown = String(Number(document.documentElement.dataset.shown || 0) + 1);
    },
    head(h) {
      byId("title").textContent = h.title;
      document.title = h.title + " – " + file;
      byId("package").hidden = false;
    },
    fault(markup) {
      byId("fault").innerHTML = markup;
      byId("fault").hidden = markup === "";
    },
    solids(bodies) {
      if (view) view.show(bodies);
    },
    arrival(map) {
      if (view) view.fill(map);
    },
    holes: into("holes"),
    decisions(markup) {
      byId("decisions").innerHTML = markup;
      if (view) view.reasons();
    },
    numbers: showNumbers,
    verdict: into("verdict"),
    findings(markup) {
      byId("findings").innerHTML = markup;
      offerRemedies();
    },
    process: into("process"),
    fill(markup) {
      const old = byId("fill").querySelector("#front input");
      byId("fill").innerHTML = markup;
      const slider = byId("fill").querySelector("#front input");
      if (old && slider) slider.value = old.value;
      followFront();
    },
  };

  // Lines that were tried: a button where the page has all their numbers.
  const rowOf = (key) => [...byId("list").children].find((r) => r.dataset.number === key);
  function offerRemedies() {
    for (const line of byId("findings").querySelectorAll("[data-changes]")) {
      const changes = JSON.parse(line.dataset.changes);
      const known = changes.every((c) => c.to !== null && Number.isFinite(Number(c.to)) && rowOf(c.key));
      if (!known) continue;
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = "Try " + line.textContent;
      button.addEventListener("click", () => {
        for (const c of changes) {
          rowOf(c.key).querySelector("[type=number]").value = c.to;
          waiting.set(c.key, Number(c.to));
        }
        tell();
      });
      line.replaceChildren(button);
    }
  }

  // Numbers: a row each; rows stay while the same keys are there, so that a hand on a slider keeps it.
  function showNumbers(all) {
    const list = byId("list");
    byId("numbers").hidden = !all.length;
    const same = all.length === list.children.length && all.every((n, i) => list.children[i].dataset.number === n.key);
    if (!same) list.replaceChildren(...all.map(row));
    all.forEach((n, i) => {
      for (const input of list.children[i].querySelectorAll("input")) {
        const held = document.activeElement === input || waiting.has(n.key);
        if (input.type === "range" && !held) Object.assign(input, { min: Math.min(n.low, n.value), max: Math.max(n.high, n.value), step: n.step });
        if (!held) input.value = n.value;
      }
    });
    showState();
  }
  function row(n) {
    const box = document.createElement("div");
    box.className = "number";
    box.dataset.number = n.key;
    const id = "n-" + n.key.replace(/[^a-z0-9]/gi, "-");
    const label = document.createElement("label");
    label.htmlFor = id;
    label.textContent = n.key + (n.unit ? ", " + n.unit : "");
    label.title = n.doc;
    const slider = document.createElement("input");
    Object.assign(slider, { type: "range", min: n.low, max: n.high, step: n.step, value: n.value });
    slider.setAttribute("aria-label", n.key + ", slider");
    const exact = document.createElement("input");
    Object.assign(exact, { type: "number", step: "any", value: n.value, id });
    box.append(label, slider, exact);
    const move = (from, to) => {
      if (from.value === "" || !Number.isFinite(Number(from.value))) return;
      to.value = from.value;
      waiting.set(n.key, Number(from.value));
      tell();
    };
    slider.addEventListener("input", () => move(slider, exact));
    exact.addEventListener("input", () => move(exact, slider));
    return box;
  }
  const standing = () => {
    // What is moved already, as the rows show it, and what has been moved since.
    const values = {};
    for (const r of byId("list").children) {
      if (state.moved.includes(r.dataset.number)) values[r.dataset.number] = Number(r.querySelector("[type=number]").value);
    }
    return Object.assign(values, Object.fromEntries(waiting));
  };
  async function post(where, values) {
    const answer = await fetch(where, {
      method: "POST",
      headers: { "x-page-key": key },
      body: JSON.stringify({ base: state.base, values }),
    });
    byId("answer").textContent = answer.ok ? "" : (await answer.text()).trim();
    return answer.ok;
  }
  // One question at a time; what moves meanwhile goes with the next.
  async function tell() {
    if (asking) return;
    asking = true;
    while (waiting.size) {
      const values = standing();
      for (const k of Object.keys(values)) if (!state.moved.includes(k)) state.moved.push(k);
      waiting = new Map();
      try {
        await post("numbers", values);
      } catch {
        byId("answer").textContent = "the program does not answer";
      }
    }
    asking = false;
  }
  byId("drop").addEventListener("click", () => post("numbers", {}).catch(() => {}));
  byId("write").addEventListener("click", async () => {
    try {
      if (await post("write", standing())) byId("answer").textContent = "written";
    } catch {
      byId("answer").textContent = "the program does not answer";
    }
  });
  byId("zip").addEventListener("click", () => {
    byId("answer").textContent = "";
  });

  // The stream is let go in a hidden tab: a browser has only a few connections for one address.
  let stream = null;
  function listen() {
    if (stream || document.hidden) return;
    stream = new EventSource("events");
    for (const [name, show] of Object.entries(take)) {
      stream.addEventListener(name, (e) => show(JSON.parse(e.data)));
    }
    stream.addEventListener("error", () => {
      state = { ...state, phase: "away" };
      showState();
      // A refused stream does not try again by itself.
      if (stream && stream.readyState === 2) {
        stream = null;
        setTimeout(listen, 2000);
      }
    });
    stream.addEventListener("end", () => {
      state = { ...state, phase: "ended" };
      showState();
      stream.close();
      stream = null;
      setTimeout(listen, 2000);
    });
  }
  document.addEventListener("visibilitychange", () => {
    if (document.hidden && stream) {
      stream.close();
      stream = null;
    } else {
      listen();
    }
  });
  listen();
})();
