// The page follows the file: parts come in as they change, the camera stays where it is.
(() => {
  const byId = (id) => document.getElementById(id);
  const make = (name, more = {}, ...inside) => {
    const box = Object.assign(document.createElement(name), more);
    box.append(...inside);
    return box;
  };
  const { key, file } = document.body.dataset;
  const narrow = matchMedia("(max-width: 56.29rem)");
  const view = makeView();
  let state = { phase: "away", moved: [], trial: {}, base: "" };
  let waiting = new Map(); // values put on trial here, by key, not yet told
  let asking = false;
  let verdict = ""; // as last told
  let percent = 0;
  let touched = null; // the key that was last moved here

  // The verdict and what stands in sight. Nothing is released while something is computed.
  const BUSY = ["begun", "checking", "filling"];
  const busy = () => waiting.size > 0 || asking || BUSY.includes(state.phase);
  const done = () => (percent > 0 && percent < 100 ? ", " + percent + " %" : "");
  const words = {
    begun: () => "computing …",
    checking: () => "computing the findings" + done() + " …",
    filling: () => "computing the fill" + done() + " …",
    done: (s) => (s.moved.length ? "computed, with what is on trial" : "computed") + after(s),
    broken: (s) => (s.moved.length ? "what is on trial cannot be made" : "the file has a fault") + "; the last good state is shown",
    gone: (s) => "The file cannot be followed: " + s.why + ". The last state is shown; it goes on when the file is back.",
    away: () => "Nothing is heard from the program; trying again. If it was stopped, start it again.",
    ended: () => "The program has ended. The last state is shown.",
  };
  const after = (s) => (s.ms === null ? "" : "; picture after " + Math.max(1, Math.round(s.ms)) + " ms");
  function showVerdict() {
    const box = byId("verdict");
    const go = verdict.includes('"verdict go"');
    let now = verdict;
    if (go && busy()) now = '<p class="verdict wait"><b>COMPUTING</b> not released yet</p>';
    else if (go && state.phase !== "done") now = '<p class="verdict wait"><b>NOT KNOWN</b> of the last good state: released</p>';
    if (box.dataset.shown !== now) {
      box.dataset.shown = now;
      box.innerHTML = now;
    }
  }
  function showState() {
    const line = byId("state");
    const text = words[state.phase](state);
    if (line.textContent !== text) line.textContent = text;
    line.dataset.phase = state.phase;
    const fresh = ["done", "ended"].includes(state.phase);
    for (const id of ["fill", "process"]) byId(id).classList.toggle("old", !fresh);
    byId("findings").classList.toggle("old", !fresh && state.phase !== "filling");
    showVerdict();
    showTrial();
  }
  const onTrial = () => [...new Set([...state.moved, ...waiting.keys()])];
  function showTrial() {
    const keys = onTrial();
    byId("trial").hidden = !keys.length;
    const lines = keys.map((k) => {
      const v = waiting.has(k) ? waiting.get(k) : state.trial[k];
      return v === null ? k + " left out" : k + " = " + v;
    });
    byId("trial-text").textContent = "On trial, not in the file: " + lines.join("; ");
    byId("write").disabled = state.phase === "broken" || state.phase === "gone";
    for (const row of document.querySelectorAll(".number")) row.classList.toggle("trial", keys.includes(row.dataset.number));
    measureTop();
  }
  let topHeight = 0;
  function measureTop() {
    const now = Math.ceil(byId("top").getBoundingClientRect().height);
    if (now === topHeight) return;
    topHeight = now;
    document.documentElement.style.setProperty("--top", now + "px");
  }
  new ResizeObserver(measureTop).observe(byId("top"));

  const into = (id) => (markup) => { byId(id).innerHTML = markup; };
  const take = {
    state(s) {
      if (s.phase === "begun") percent = 0;
      state = s;
      showState();
      if (s.phase === "begun") sayAtRow([]);
      document.documentElement.dataset.shown = String(Number(document.documentElement.dataset.shown || 0) + 1);
      // Of which text the solids are, in these words: "checking" and later ones come after them.
      document.documentElement.dataset.of = s.phase + " " + s.base;
    },
    progress(share) {
      percent = share;
      showState();
    },
    head(h) {
      byId("title").textContent = h.title;
      if (document.documentElement.dataset.units !== h.units) {
        document.documentElement.dataset.units = h.units;
        byId("apart").dispatchEvent(new Event("input"));
      }
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
    verdict(markup) {
      verdict = markup;
      showVerdict();
    },
    findings(markup) {
      const open = [...byId("findings").querySelectorAll("details.rest[open]")].map((d) => d.id);
      byId("findings").innerHTML = markup;
      // On a phone the worst one leaves room for the numbers.
      const grave = [...byId("findings").querySelectorAll(":scope > article")];
      if (narrow.matches && grave.length > 1) {
        const others = make("details", { className: "rest", id: "findings-others" }, make("summary", { textContent: grave.length - 1 + " more" }));
        grave[0].after(others);
        others.append(...grave.slice(1));
      }
      for (const id of open) if (byId(id)) byId(id).open = true;
      offerRemedies();
    },
    changed: showChanged,
    versions: showVersions,
    study: showStudy,
    process: into("process"),
    fill(markup) {
      const old = byId("fill").querySelector("#front input");
      byId("fill").innerHTML = markup;
      const slider = byId("fill").querySelector("#front input");
      if (old && slider) slider.value = old.value;
      followFront();
    },
  };

  // What the last change did: under the picture, and beside the number that was moved.
  function showChanged({ own, said }) {
    const box = byId("changed");
    box.hidden = !said.length;
    const text = (own.length ? "On trial against the file: " : "Against the save before: ") + said.join("; ");
    if (box.textContent !== text) box.replaceChildren(make("p", { textContent: text }));
    sayAtRow(own.length ? said : []);
    seeHeight();
  }
  function sayAtRow(said) {
    for (const note of document.querySelectorAll(".number .note")) note.textContent = "";
    const at = touched && state.moved.includes(touched) ? touched : state.moved[state.moved.length - 1];
    const row = at && rowOf(at);
    if (!row) return;
    const together = state.moved.length > 1 ? "all on trial together: " : "";
    const note = row.querySelector(".note");
    note.className = "note effect";
    note.textContent = said.length ? together + said.slice(0, 6).join("; ") : busy() ? "computing …" : "";
  }

  // Lines that were tried: a button each.
  function offerRemedies() {
    for (const line of byId("findings").querySelectorAll("[data-changes]")) {
      const changes = JSON.parse(line.dataset.changes);
      const button = make("button", { type: "button", textContent: "Try " + line.textContent });
      button.addEventListener("click", () => {
        for (const c of changes) waiting.set(c.key, c.to);
        touched = changes[0].key;
        tell();
      });
      line.replaceChildren(button);
    }
  }

  // Numbers: groups of rows; rows stay while the same keys are there, so that a hand on a slider keeps it.
  const known = JSON.parse(byId("keys").textContent);
  const SHORT = 12; // rows of a group before the rest is folded
  const rows = new Map();
  const groups = new Map(); // folds by name
  const rowOf = (k) => rows.get(k)?.box;
  // Puts children in order; what stands right already is not touched, so that it keeps the focus.
  function inOrder(box, wanted) {
    for (const child of [...box.children]) if (!wanted.includes(child)) child.remove();
    wanted.forEach((child, i) => {
      if (box.children[i] !== child) box.insertBefore(child, box.children[i] ?? null);
    });
  }
  function group(name, list, open) {
    const id = "group-" + name.replace(/\W/g, "-").toLowerCase();
    const fold = (id, open) => make("details", { className: "group", id, open }, make("summary"));
    if (!groups.has(name)) groups.set(name, fold(id, open));
    const box = groups.get(name);
    box.firstChild.textContent = name + " (" + list.length + ")";
    const wanted = list.slice(0, SHORT).map((n) => rowOf(n.key));
    if (list.length > SHORT) {
      const more = byId(id + "-more") ?? fold(id + "-more", false);
      more.firstChild.textContent = list.length - SHORT + " more";
      inOrder(more, [more.firstChild, ...list.slice(SHORT).map((n) => rowOf(n.key))]);
      wanted.push(more);
    }
    inOrder(box, [box.firstChild, ...wanted]);
    return box;
  }
  let listed = "";
  function showNumbers(all) {
    byId("numbers").hidden = !all.length;
    const shape = all.map((n) => n.key + n.kind + n.given).join("|");
    if (shape !== listed) {
      listed = shape;
      const fresh = groups.size === 0;
      for (const n of all) {
        const old = rows.get(n.key);
        if (old && old.kind === n.kind && old.given === n.given) continue;
        old?.box.remove();
        rows.set(n.key, { box: row(n), kind: n.kind, given: n.given });
      }
      for (const [k, { box }] of rows) {
        if (all.some((n) => n.key === k)) continue;
        box.remove();
        rows.delete(k);
      }
      const section = (n) => n.key.split(".")[0];
      const named = known.sections.map(([s, name]) => [name, all.filter((n) => section(n) === s)]);
      named.push(["Job", all.filter((n) => !known.sections.some(([s]) => s === section(n)))]);
      const shown = named.filter(([, list]) => list.length).map(([name, list], i) => group(name, list, fresh && i === 0));
      for (const [name, box] of groups) if (!shown.includes(box)) groups.delete(name);
      inOrder(byId("groups"), shown);
      search();
    }
    for (const n of all) fillRow(rowOf(n.key), n);
    offerStudy(all);
    showState();
  }
  const idOf = (k) => "n-" + k.replace(/[^a-z0-9]/gi, "-");
  function row(n) {
    const box = make("div", { className: "number" });
    box.steps = [];
    box.dataset.number = n.key;
    const id = idOf(n.key);
    const label = make("label", { title: n.doc });
    // A long key breaks at its joints.
    for (const word of n.key.split(".").slice(1).join(".").split(/(?<=[._])/)) label.append(word, make("wbr"));
    label.htmlFor = id;
    const value = make("span", { className: "value" });
    const middle = make("span");
    const act = make("span", { className: "act" });
    let input;
    if (n.kind === "number") {
      input = make("input", { type: "number", step: "any" });
      // What the file would have a plain number for is told so; else with its unit.
      const told = (to) => (box.plain || !Number.isFinite(to) ? to : JSON.stringify(to + " " + box.unit));
      const slider = make("input", { type: "range", min: 0, step: 1 });
      slider.setAttribute("aria-label", n.key + ", slider");
      input.addEventListener("input", () => move(n.key, input.value === "" ? NaN : told(Number(input.value))));
      slider.addEventListener("input", () => {
        const to = box.steps[Number(slider.value)];
        input.value = to;
        slider.setAttribute("aria-valuetext", to + " " + box.unit);
        move(n.key, told(to));
      });
      middle.append(slider);
      value.append(input, make("span", { className: "unit" }));
    } else if (n.words.length) {
      input = make("select");
      input.append(...n.words.map((w) => make("option", { value: w, textContent: n.kind === "flag" ? (w === "true" ? "yes" : "no") : w })));
      input.addEventListener("change", () => move(n.key, n.kind === "flag" ? input.value : JSON.stringify(input.value)));
      value.append(input);
    } else if (n.kind === "text") {
      input = make("input", { type: "text" });
      input.addEventListener("change", () => move(n.key, JSON.stringify(input.value)));
      value.append(input);
    } else {
      input = make("output");
      value.append(input);
    }
    input.id = id;
    if (input.setAttribute && n.kind !== "other") input.setAttribute("aria-label", n.key);
    const button = n.given ? (n.open ? "let go" : "") : "keep";
    act.append(make("span", { className: "who", textContent: n.given ? "" : "decided" }));
    if (button) {
      const b = make("button", { type: "button", textContent: button });
      b.setAttribute("aria-label", button === "keep" ? "keep " + n.key + " as it was decided" : "let go " + n.key + ", so that it is decided");
      b.addEventListener("click", () => move(n.key, button === "keep" ? box.take : null));
      act.append(b);
    }
    box.append(label, value, middle, act, make("p", { className: "note" }));
    return box;
  }
  function fillRow(box, n) {
    box.take = n.take;
    box.unit = n.unit;
    box.plain = n.plain;
    const input = byId(idOf(n.key)) ?? box.querySelector("output");
    const held = document.activeElement;
    const waits = waiting.has(n.key);
    if (n.kind === "number") {
      const slider = box.querySelector("[type=range]");
      box.querySelector(".unit").textContent = n.unit;
      if (held !== slider && !waits) {
        box.steps = n.steps;
        slider.max = Math.max(0, n.steps.length - 1);
        slider.value = Math.max(0, n.steps.indexOf(n.value));
        slider.setAttribute("aria-valuetext", n.value + " " + n.unit);
        slider.hidden = n.steps.length < 2;
      }
    }
    if (held !== input && !waits && input.value !== String(n.value)) input.value = n.value;
  }
  function move(k, to) {
    if (typeof to === "number" && !Number.isFinite(to)) return;
    waiting.set(k, to);
    touched = k;
    showState();
    tell();
  }

  // Find: rows whose key or meaning has the words; below, keys that the file leaves out.
  function search() {
    const wanted = byId("find").value.trim().toLowerCase().split(/\s+/).filter(Boolean);
    const fits = (...texts) => wanted.every((w) => texts.join(" ").toLowerCase().includes(w));
    for (const [k, { box }] of rows) box.hidden = wanted.length > 0 && !fits(k, box.querySelector("label").title);
    for (const group of [...document.querySelectorAll("#groups details")].reverse()) {
      const any = [...group.querySelectorAll(".number")].some((r) => !r.hidden);
      group.hidden = !any;
      if (wanted.length) {
        group.dataset.was ??= String(group.open);
        group.open = true;
      } else if (group.dataset.was) {
        group.open = group.dataset.was === "true";
        delete group.dataset.was;
      }
    }
    const others = byId("others");
    const more = wanted.length ? known.keys.filter((k) => !rows.has(k.key) && fits(k.key, k.doc)).slice(0, 12) : [];
    others.hidden = !more.length;
    others.replaceChildren(make("h3", { textContent: "Not in the file" }), ...more.map((k) => {
      const give = make("button", { type: "button", textContent: "Try " + k.key + " = " + k.example });
      give.addEventListener("click", () => move(k.key, k.example));
      return make("div", { className: "known" }, give, make("p", { textContent: k.doc + " Left out: " + k.default + "." }));
    }));
  }
  byId("find").addEventListener("input", search);

  // What is on trial already, and what has been moved since.
  const standing = () => Object.assign({}, state.trial, Object.fromEntries(waiting));
  async function post(where, body) {
    const answer = await fetch(where, {
      method: "POST",
      headers: { "x-page-key": key },
      body: JSON.stringify({ base: state.base, ...body }),
    });
    byId("answer").textContent = answer.ok ? "" : (await answer.text()).trim();
    return answer.ok;
  }
  // One question at a time; what moves meanwhile goes with the next.
  async function tell() {
    if (asking) return;
    asking = true;
    showState();
    while (waiting.size) {
      const values = standing();
      state.trial = values;
      state.moved = Object.keys(values);
      waiting = new Map();
      try {
        await post("numbers", { values });
      } catch {
        byId("answer").textContent = "the program does not answer";
      }
    }
    asking = false;
    showState();
  }
  byId("drop").addEventListener("click", () => post("numbers", { values: {} }).catch(() => {}));
  byId("write").addEventListener("click", async () => {
    try {
      if (await post("write", { values: standing() })) byId("answer").textContent = "written";
    } catch {
      byId("answer").textContent = "the program does not answer";
    }
  });
  byId("zip").addEventListener("click", () => {
    byId("answer").textContent = "";
  });

  // Versions: the saves of this sitting, the newest first.
  function showVersions(all) {
    const list = make("ol");
    all.forEach((v, i) => {
      const time = new Date(v.at).toLocaleTimeString();
      const item = make("li", {}, make("span", { textContent: "Save " + v.number + ", " + time }));
      if (v.said && v.said.length) item.append(make("ul", {}, ...v.said.map((t) => make("li", { textContent: t }))));
      else item.append(make("span", { className: "soft", textContent: v.said ? (i === all.length - 1 ? "the first of this sitting" : "nothing differs") : "not computed to its end" }));
      if (i === 0) item.append(make("span", { className: "soft", textContent: "in the file now" }));
      else {
        const back = make("button", { type: "button", textContent: "Go back to " + v.number });
        back.addEventListener("click", () => post("back", { version: v.number }).catch(() => {}));
        item.append(back);
      }
      list.append(item);
    });
    byId("versions").replaceChildren(list);
  }

  // A study: two numbers over their ranges, or one.
  const axes = [];
  function axis(name, none) {
    const key = make("select");
    key.setAttribute("aria-label", name);
    const field = (of) => {
      const input = make("input", { type: "number", step: "any" });
      input.setAttribute("aria-label", name + ", " + of);
      return input;
    };
    const [from, to, count] = ["from", "to", "how many values"].map(field);
    count.value = none ? 4 : 5;
    count.min = 2;
    count.step = 1;
    const unit = make("span", { className: "unit" });
    const own = { key, from, to, count, unit };
    key.addEventListener("change", () => range(own));
    axes.push(own);
    byId("vary").append(make("p", { className: "axis-of" }, key, " from ", from, " to ", to, unit, " in ", count, " values"));
    if (none) key.append(make("option", { value: "", textContent: "nothing else" }));
    return own;
  }
  // From two steps of the slider below to two above.
  function range(own) {
    const row = rowOf(own.key.value);
    for (const field of [own.from, own.to, own.count]) field.disabled = !row;
    own.unit.textContent = row?.unit ? " " + row.unit : "";
    if (!row) return;
    const at = Math.max(0, row.steps.indexOf(Number(byId(idOf(own.key.value)).value)));
    const reach = Math.max(2, Math.round(row.steps.length / 8));
    own.from.value = row.steps[Math.max(0, at - reach)] ?? "";
    own.to.value = row.steps[Math.min(row.steps.length - 1, at + reach)] ?? "";
  }
  function offerStudy(all) {
    if (!axes.length) {
      axis("first number", false);
      axis("second number", true);
    }
    const numbers = all.filter((n) => n.kind === "number" && n.steps.length > 1).map((n) => n.key);
    axes.forEach((own, i) => {
      const known = [...own.key.options].map((o) => o.value).filter(Boolean);
      if (known.join() === numbers.join()) return;
      const was = own.key.value;
      own.key.replaceChildren(...own.key.querySelectorAll("option[value='']"), ...numbers.map((k) => make("option", { value: k, textContent: k })));
      const wish = ["part.thickness", "plastic.melt_temperature"][i];
      own.key.value = numbers.includes(was) ? was : numbers.includes(wish) ? wish : i ? "" : numbers[0] ?? "";
      if (own.key.value !== was) range(own);
    });
    byId("study-go").disabled = !numbers.length;
  }
  byId("study-go").addEventListener("click", () => {
    const vary = axes.filter((a) => a.key.value).map((a) => {
      const unit = a.unit.textContent;
      return a.key.value + "=" + a.from.value + unit + ".." + a.to.value + unit + ":" + a.count.value;
    });
    byId("study-said").textContent = "";
    post("study", { vary }).catch(() => {});
  });
  byId("study-stop").addEventListener("click", () => post("study", { vary: [] }).catch(() => {}));
  function showStudy(s) {
    const running = s.state === "running";
    byId("study-stop").hidden = !running;
    const words = {
      running: () => s.done + " of " + (s.all || "…") + " computed",
      refused: () => s.why,
      done: () => s.free + " of " + s.done + " are free of stops and warnings",
      stopped: () => "ended after " + s.done + " of " + s.all,
    };
    byId("study-said").textContent = words[s.state]();
    const plot = byId("study-plot");
    plot.classList.toggle("old", running);
    if (s.svg) plot.innerHTML = "<p>" + s.vary.map((v) => make("span", { textContent: v }).innerHTML).join(", ") + "</p><figure class=\"sheet\">" + s.svg + "</figure>";
  }

  // Folds: a list of contents, open or shut as they were left, open on paper.
  const folds = [...document.querySelectorAll(".fold")];
  const memory = (() => {
    try {
      return window.sessionStorage;
    } catch {
      return null;
    }
  })();
  byId("contents").append(...folds.map((fold) => {
    const link = make("a", { href: "#" + fold.id, textContent: fold.querySelector("summary").textContent });
    link.addEventListener("click", () => { fold.open = true; });
    return link;
  }));
  for (const fold of folds) {
    fold.open = memory?.getItem(fold.id) === "open";
    fold.addEventListener("toggle", () => memory?.setItem(fold.id, fold.open ? "open" : "shut"));
  }
  let shut = [];
  window.addEventListener("beforeprint", () => {
    shut = [...document.querySelectorAll("details:not([open])")];
    for (const d of shut) d.open = true;
  });
  window.addEventListener("afterprint", () => {
    for (const d of shut) d.open = false;
  });

  // On a phone the picture becomes a strip when the page is scrolled; its controls are a fold.
  const see = byId("see");
  const controls = see.querySelector(".controls");
  const fold = make("details", { className: "view-fold" }, make("summary"));
  const few = make("div", { className: "controls few" });
  const rare = [byId("switches"), byId("feature").closest("fieldset"), byId("view-keys")];
  controls.before(few, fold);
  // What is said of a feature, and what changed, stand right under the picture.
  byId("stage").after(byId("changed"), byId("picked"));
  function shapeView() {
    const common = [...see.querySelectorAll("fieldset")].filter((f) => !rare.includes(f));
    fold.querySelector("summary").textContent = narrow.matches ? "Look, cut, pull apart, show" : "Show, ask about, keys";
    fold.append(controls);
    (narrow.matches ? controls : few).append(...common);
    controls.append(...rare);
    strip();
  }
  function seeHeight() {
    if (!see.classList.contains("strip")) see.style.setProperty("--see", see.offsetHeight + "px");
  }
  function strip() {
    const tall = narrow.matches && scrollY > innerHeight * 0.25;
    if (tall === see.classList.contains("strip")) return;
    seeHeight();
    see.classList.toggle("strip", tall);
  }
  narrow.addEventListener("change", shapeView);
  addEventListener("scroll", strip, { passive: true });
  shapeView();

  const phaseIs = (phase) => () => {
    state = { ...state, phase };
    showState();
  };
  hear(take, phaseIs("away"), phaseIs("ended"));
})();
