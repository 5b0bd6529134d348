// The folder: its files as they are computed, and the ways to a new one.
(() => {
  const byId = (id) => document.getElementById(id);
  const make = (name, more = {}, ...inside) => {
    const box = Object.assign(document.createElement(name), more);
    box.append(...inside);
    return box;
  };
  const { key } = document.body.dataset;

  // The list: a card stays while its file does, so that it keeps the focus.
  const cards = new Map();
  const shown = new Map();
  function card(f) {
    const box = cards.get(f.file) ?? make("a", { className: "file" });
    cards.set(f.file, box);
    const now = JSON.stringify(f);
    if (shown.get(f.file) === now) return box;
    shown.set(f.file, now);
    box.href = f.open;
    box.dataset.file = f.file;
    box.dataset.state = f.state;
    const look = make("div", { className: "look" });
    const words = { waits: "not computed yet", begun: "computing …", fault: "cannot be made" };
    if (f.picture) look.append(make("img", { src: f.picture, alt: "" }));
    else look.append(words[f.state] ?? "no picture");
    const told = make("div");
    if (f.state === "fault") told.append(make("p", { className: "wrong", textContent: f.told }));
    else told.innerHTML = f.told;
    box.replaceChildren(look, make("h2", { textContent: f.title || f.file }), make("p", { className: "name soft", textContent: f.file }), ...told.childNodes);
    return box;
  }
  const take = {
    files({ files, most }) {
      const box = byId("files");
      const wanted = files.map(card);
      for (const file of [...cards.keys()]) {
        if (files.some((f) => f.file === file)) continue;
        cards.delete(file);
        shown.delete(file);
      }
      if (!wanted.length) wanted.push(make("p", { textContent: "There is no parameter file in this folder yet. Below a new one begins." }));
      if (files.length >= most) wanted.push(make("p", { textContent: "More than " + most + " files: the first by name are shown." }));
      for (const child of [...box.children]) if (!wanted.includes(child)) child.remove();
      wanted.forEach((child, i) => {
        if (box.children[i] !== child) box.insertBefore(child, box.children[i] ?? null);
      });
      const open = files.filter((f) => f.state === "waits" || f.state === "begun").length;
      const many = files.length === 1 ? "1 parameter file" : files.length + " parameter files";
      byId("state").textContent = many + (open ? "; " + open + " to be computed" : "");
      document.documentElement.dataset.open = String(open);
    },
  };

  async function post(where, body, headers = {}) {
    try {
      const answer = await fetch(where, { method: "POST", headers: { "x-page-key": key, ...headers }, body });
      const text = await answer.text();
      byId("answer").textContent = answer.ok ? "" : text.trim();
      return answer.ok ? JSON.parse(text) : null;
    } catch {
      byId("answer").textContent = "the program does not answer";
      return null;
    }
  }
  const go = (told) => {
    if (told?.open) location.href = told.open;
  };

  // From a starter.
  const which = byId("which");
  const called = byId("called");
  let own = false;
  const suggest = () => {
    if (!own) called.value = which.value;
  };
  which.addEventListener("change", suggest);
  called.addEventListener("input", () => { own = true; });
  suggest();
  byId("starter").addEventListener("submit", async (e) => {
    e.preventDefault();
    go(await post("new", JSON.stringify({ starter: which.value, name: called.value })));
  });

  // By answers: those so far are sent each time, and the next question comes back.
  const talk = byId("talk");
  let given = null;
  let answers = [];
  let told = []; // question and answer, as they are read
  let question = null;
  async function ask() {
    const answer = await post("ask", JSON.stringify({ given, answers }));
    if (!answer) return false;
    if (answer.open) {
      go(answer);
      return false;
    }
    question = answer.question;
    byId("wrong").textContent = question.said;
    const box = byId("question");
    if (question.words.length) {
      const choices = question.words.map(([word, about], i) => {
        const input = make("input", { type: "radio", name: "word", value: word, checked: i === 0 });
        return make("label", { className: "choice" }, input, make("span", {}, make("b", { textContent: word }), ": " + about));
      });
      box.replaceChildren(make("fieldset", {}, make("legend", { textContent: question.ask }), ...choices));
    } else {
      const input = make("input", { type: "text", value: question.usual, autocomplete: "off" });
      box.replaceChildren(make("label", { className: "ask" }, question.ask, input));
    }
    byId("said").replaceChildren(...told.map(([q, a]) => make("li", {}, q + " ", make("b", { textContent: a }))));
    byId("undo").disabled = !answers.length;
    return true;
  }
  async function begin(file) {
    given = file;
    answers = [];
    told = [];
    talk.hidden = false;
    if (await ask()) focus();
    else talk.hidden = true;
  }
  function focus() {
    const input = byId("question").querySelector("input");
    input.focus();
    if (input.type === "text") input.select();
    talk.scrollIntoView({ block: "nearest" });
  }
  const here = () => (question.words.length ? byId("question").querySelector("input:checked").value : byId("question").querySelector("input").value.trim());
  function keep(answer) {
    answers.push(answer);
    told.push([question.ask, answer || question.usual]);
  }
  // An answer that was refused, or is taken back.
  function unkeep() {
    answers.pop();
    told.pop();
    byId("undo").disabled = !answers.length;
  }
  talk.addEventListener("submit", async (e) => {
    e.preventDefault();
    const asked = question.ask;
    keep(here());
    if (!(await ask())) {
      // What does not go together is asked again from here.
      unkeep();
      return;
    }
    if (question.said && question.ask === asked) unkeep();
    focus();
  });
  byId("usual").addEventListener("click", async () => {
    // What was filled in counts; then the usual ones, until one is not taken.
    keep(here());
    for (let i = 0; i < 40; i++) {
      const asked = question.ask;
      if (!(await ask())) return;
      if (question.said && question.ask === asked) unkeep();
      if (question.said || (!question.usual && !question.words.length)) return focus();
      keep("");
    }
  });
  byId("undo").addEventListener("click", async () => {
    unkeep();
    if (await ask()) focus();
  });
  byId("leave").addEventListener("click", () => {
    talk.hidden = true;
    byId("answer").textContent = "";
  });
  byId("questions").addEventListener("click", () => begin(null));

  // A file that is dropped or chosen.
  const drop = byId("drop");
  async function bring(file) {
    // Letters without their marks; what is no letter becomes a hyphen.
    const plain = file.name.normalize("NFD").replace(/[\u0300-\u036f]/g, "").replace(/[^A-Za-z0-9._-]+/g, "-").replace(/^[^A-Za-z0-9]+/, "");
    byId("state").textContent = "reading " + file.name + " …";
    const answer = await post("drop", file, { "x-file-name": plain, "content-type": "application/octet-stream" });
    byId("state").textContent = "";
    if (answer?.given) begin(answer.given);
    else go(answer);
  }
  for (const name of ["dragover", "drop"]) {
    document.addEventListener(name, (e) => e.preventDefault());
  }
  document.addEventListener("dragover", () => drop.classList.add("over"));
  document.addEventListener("dragleave", (e) => {
    if (!e.relatedTarget) drop.classList.remove("over");
  });
  document.addEventListener("drop", (e) => {
    drop.classList.remove("over");
    const [file] = e.dataTransfer.files;
    if (file) bring(file);
  });
  byId("pick").addEventListener("change", () => {
    const [file] = byId("pick").files;
    if (file) bring(file);
    byId("pick").value = "";
  });

  const away = () => {
    byId("state").textContent = "Nothing is heard from the program; trying again. If it was stopped, start it again.";
  };
  hear(take, away, away);
})();
