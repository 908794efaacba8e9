// The page: what was typed goes to the program, what it says of it comes back and is shown.

import { ask, Refused, Gone } from "./ask.js";
import { el, byId } from "./make.js";
import { Fields, valueAt } from "./fields.js";
import { Cards } from "./cards.js";
import { Drawing } from "./drawing.js";
import { Answers } from "./answers.js";
import { Tiller } from "./tiller.js";
import { StaveDrawing, StaveAnswers } from "./stave.js";
import { Photo, askPoints } from "./photo.js";
import { lengthOf, written } from "./measures.js";
import { notice, question } from "./dialogs.js";
import { FileText } from "./file_text.js";

const TYPING = 50; // ms without a key before a change is sent
const DRAWING = 150; // ms after a change before the bow is drawn anew
const LOOK = 4000; // ms between two looks whether another tab changed it

const page = { desk: null, state: null, at: null, pending: [], mark: "", timer: 0, sending: null, drawTimer: 0, job: null, logOf: undefined, chosen: false, kind: null, entry: null };

const fields = new Fields((edits, mark) => change(edits, mark));
const cards = new Cards(byId("entry"), fields, (edits, mark) => change(edits, mark), (mm) => look(mm), { ask: question });
cards.raw = () => (page.state && page.state.raw) || {};
const ofDrawing = {
  look: (mm) => look(mm),
  place: (kind, values) => {
    tool(null);
    if (kind === "point") {
      // the line that was found goes, until it is looked for again with this point
      answers.assessed = null;
      return change([{ do: "point", values }], "");
    }
    if (kind === "check") {
      const count = (Array.isArray(cards.raw().check) ? cards.raw().check : []).length;
      cards.next = ["check", count, "depth"];
      return change([{ do: "add", loc: ["check"], values }], "");
    }
    const count = (Array.isArray(cards.raw()[kind]) ? cards.raw()[kind] : []).length;
    cards.next = [kind, count, kind === "knot" ? (values.diameter ? "state" : "diameter") : values.length ? "depth" : "length"];
    change([{ do: "add", loc: [kind], values: { name: cards.freeName(), ...values } }], "");
  },
  move: (zone, values) => change(Object.entries(values).map(([key, text]) => ({ do: "set", loc: [zone.kind, zone.row, key], text })), `move ${zone.kind} ${zone.row}`),
  settle: (row, values) => {
    const loc = ["fix", "through", row];
    if (values) change(Object.entries(values).map(([key, text]) => ({ do: "set", loc: [...loc, key], text })), `move point ${row}`);
    else change([{ do: "drop", loc }], "");
  },
  go,
};
const ofAnswers = {
  assess, cancel,
  keep: () => { answers.before = answers.drawn.facts; answers.render(page.state); }, go,
  lay: () => { answers.chosen = 0; start("lay"); },
  show: () => { redraw(); answers.render(page.state); },
  takeOut: (layout) => open(null, { layout }),
};
// of a bow or of a stave; see setUp
let drawing = null, answers = null;
const photo = new Photo(byId("photo"), {
  changed: () => drawing.render(),
  say: (text) => notice(text),
  ends: () => { const bow = page.state.drawing.bow; return bow ? [bow.x[0], bow.x[bow.x.length - 1]] : [0, 1000]; },
  aside: (x) => drawing.asideAt(x),
  points: (shown) => askPoints(byId("question"), shown, {
    read: (text) => lengthOf(text, unitOf(page.state.raw || {})),
    write: (x) => written(x, unitOf(page.state.raw || {})),
    first: page.kind === "stave" ? "from the butt end" : "from the middle of the grip, lower limb with a minus",
    second: page.kind === "stave" ? "from the butt end, nearer the top" : "from the middle of the grip, upper limb",
  }),
});

// The page is of a bow or of a stave: its fields, its drawing and its answers.
function setUp(kind) {
  if (page.kind === kind) return;
  page.kind = kind;
  cards.entry = page.entry[kind];
  byId("answers").replaceChildren();
  drawing = new (kind === "stave" ? StaveDrawing : Drawing)(byId("bow"), byId("section"), ofDrawing);
  answers = new (kind === "stave" ? StaveAnswers : Answers)(byId("answers"), ofAnswers);
  drawing.photo = photo;
  byId("tiller").hidden = kind === "stave";
  const tools = kind === "stave" ? [["point", "A point of the line"], ["knot", "Place a knot"], ["check", "Draw a crack"], ["decay", "Place rot"]] : [["knot", "Place a knot"], ["decay", "Place rot"]];
  byId("placing").replaceChildren(
    ...tools.map(([name, label]) => el("button", { type: "button", "data-kind": name, "aria-pressed": "false", text: label, onclick: () => tool(drawing.tool === name ? null : name) })),
    el("p", { class: "hint", text: kind === "stave" ? "then press on the back, and draw it to its size" : "then press on the back or belly and draw it to its size" }));
}

const tiller = new Tiller(byId("tiller"), {
  change: async (question, name = "log_change") => {
    await settled();
    try {
      return await ask(name, { desk: page.desk, ...question });
    } catch (error) {
      if (!(error instanceof Refused)) return void complain(error);
      if (error.answer.changed) await lookAtLog();
      return { error: error.message };
    }
  },
  fit: (asked) => start("fit", asked),
  cancel,
  say: (text) => notice(text),
});

// --- to the program and back

function change(edits, mark) {
  for (const edit of edits) {
    const at = edit.do === "set" ? page.pending.findIndex((one) => one.do === "set" && JSON.stringify(one.loc) === JSON.stringify(edit.loc)) : -1;
    // a later value of the same place takes the earlier one's, unless something was done between
    if (at >= 0 && page.pending.slice(at).every((one) => one.do === "set")) page.pending.splice(at, 1);
    page.pending.push(edit);
  }
  page.mark = mark;
  clearTimeout(page.timer);
  page.timer = setTimeout(send, mark ? TYPING : 0);
}

async function send(last = false) {
  if ((page.sending && !last) || !page.pending.length || !page.state) return;
  const edits = page.pending;
  page.pending = [];
  const question = { desk: page.desk, version: page.state.version, edits, mark: page.mark, at: page.at };
  page.sending = ask("change", question, last);
  try {
    apply((await page.sending).state);
  } catch (error) {
    page.pending = [];
    await complain(error);
  } finally {
    page.sending = null;
  }
  if (page.pending.length) send();
}

// All that was typed is with the program once this is done.
async function settled() {
  clearTimeout(page.timer);
  while (page.pending.length || page.sending) {
    if (page.sending) await page.sending.catch(() => {});
    else await send();
    await new Promise((done) => setTimeout(done));
  }
}

async function tell(name, extra = {}) {
  await settled();
  try {
    const answer = await ask(name, { desk: page.desk, version: page.state.version, at: page.at, ...extra });
    if (answer.state) apply(answer.state);
    return answer;
  } catch (error) {
    return complain(error);
  }
}

async function complain(error) {
  if (error instanceof Refused && error.answer.stale) {
    notice(error.message);
    apply(error.answer.state, true);
  } else if (error instanceof Refused || error instanceof Gone) {
    notice(error.message, [], error instanceof Gone);
    if (error instanceof Refused && page.desk) {
      // what is shown must be what the program has
      const answer = await ask("look", { desk: page.desk, at: page.at }).catch(() => null);
      if (answer && answer.state) apply(answer.state, true);
    }
  } else throw error;
  return null;
}

function apply(state, all = false) {
  setUp(state.kind);
  const fresh = !page.state || page.state.version !== state.version;
  page.state = state;
  if (all && document.activeElement && byId("entry").contains(document.activeElement)) document.activeElement.blur();
  byId("entry").hidden = state.raw === null;
  // what was typed meanwhile is newer than this answer; the next one brings it
  if (state.raw !== null && (all || !page.pending.length)) cards.render(state);
  text.render(state);
  const left = fields.tell(state.raw === null ? [] : state.faults);
  if (state.raw === null) left.push(...state.faults);
  answers.tell(fields.faults, left, state.message);
  redraw();
  answers.render(state);
  renderBar();
  if (page.logOf !== state.name) lookAtLog().catch(complain);
  else tiller.renderWork(state.sound);
  byId("sheet").dataset.version = state.version;
  if (cards.next) {
    const place = fields.places.get(JSON.stringify(cards.next));
    if (place) {
      cards.next = null;
      focusOn(place);
    }
  }
  if (fresh) {
    clearTimeout(page.drawTimer);
    if (state.sound && state.kind === "bow") page.drawTimer = setTimeout(draw, DRAWING);
  }
}

function redraw() {
  drawing.verdicts = answers.verdicts();
  drawing.strip = answers.drawn && answers.drawn.strip;
  drawing.stale = answers.stale;
  drawing.strokes = tiller.strokes();
  if (page.kind === "stave") {
    drawing.layout = answers.layout;
    drawing.stale = Boolean(answers.assessed) && answers.assessed.digest !== page.state.digest;
  }
  photo.open(page.state.name || `desk ${page.desk}`);
  drawing.draw(page.state.drawing, unitOf(page.state.raw || {}));
  const section = page.state.drawing.section;
  byId("section-words").textContent = section ? section.words : "";
  byId("zones-said").textContent = page.state.drawing.zones.map((zone) => `${zone.kind === "knot" ? "knot" : "rot"} ${zone.name}: ${zone.face}, ${drawing.place(zone.x)}`).join("; ");
}

function unitOf(raw) {
  const limb = valueAt(raw, ["limb", "both"]) || valueAt(raw, ["limb", "upper"]) || raw.stave || raw.taper || {};
  return ["in", "ft"].includes(limb.unit) ? "in" : "mm";
}

let looking = null;
async function look(mm) {
  if (!page.state || !page.state.drawing.bow) return;
  const x = page.state.drawing.bow.x;
  page.at = Math.min(x[x.length - 1], Math.max(x[0], mm));
  if (looking) {
    looking = "again";
    return;
  }
  looking = "now";
  try {
    const answer = await ask("look", { desk: page.desk, at: page.at });
    if (answer.state.version === page.state.version) {
      page.state.drawing = answer.state.drawing;
      redraw();
    }
  } catch (error) {
    await complain(error);
  } finally {
    const again = looking === "again";
    looking = null;
    if (again) look(page.at);
  }
}

async function draw() {
  answers.drawWords = "";
  const slow = setTimeout(() => { answers.drawWords = "drawing; the first time on this machine it takes a minute or so \u2026"; answers.render(page.state); }, 4000);
  try {
    const { drawn } = await ask("draw", { desk: page.desk });
    if (!drawn) return;
    answers.drawWords = "";
    answers.drawn = drawn;
    answers.before ||= drawn.facts;
  } catch (error) {
    if (error instanceof Gone) return void complain(error);
    answers.drawWords = error.message;
  } finally {
    clearTimeout(slow);
  }
  redraw();
  answers.render(page.state);
}

function assess() {
  return start("assess");
}

// A long computation, followed until it is done.
async function start(work, asked = {}) {
  await settled();
  const answer = await tell(work, { units: answers.units, ...asked });
  if (answer) follow(answer.job);
}

function cancel() {
  return page.job && ask("cancel", { number: page.job.number }).catch(complain);
}

async function follow(job) {
  answers.words = "";
  const ran = Boolean(job) && job.state === "runs";
  while (job && job.state === "runs") {
    page.job = job;
    showJob(job);
    await new Promise((done) => setTimeout(done, 300));
    try {
      job = (await ask("job")).job;
    } catch (error) {
      page.job = null;
      answers.running = null;
      return void complain(error);
    }
  }
  page.job = null;
  if (job && job.desk === page.desk) {
    showJob(job);
    if (ran && job.state === "cancelled") notice("stopped; nothing was changed");
  }
  redraw();
  answers.render(page.state);
}

function showJob(job) {
  if (job.work === "fit") {
    tiller.job = job.state === "cancelled" ? null : job;
    tiller.renderWork(page.state.sound);
    if (job.result || job.state !== "runs") tiller.renderFound(page.state.digest);
    return;
  }
  answers.running = job.state === "runs" ? job : null;
  const first = job.result && (!answers.assessed || answers.assessed.number !== job.number);
  if (job.state === "done" || first) answers.assessed = job;
  if (first && job.state !== "done") {
    // a first look, while the rest is computed
    redraw();
    answers.render(page.state);
  }
  if (job.state === "failed") answers.words = job.words;
  if (job.state === "runs") answers.renderWork(page.state);
}

async function lookAtLog() {
  const { log } = await ask("log", { desk: page.desk });
  page.logOf = page.state.name;
  tiller.show(log, unitOf(page.state.raw || {}) === "in");
  tiller.renderWork(page.state.sound);
}

// What goes on in this case when the page comes to it.
async function resume() {
  if (!page.desk) return;
  const { job } = await ask("job");
  if (job && job.desk === page.desk) await follow(job);
}

// --- the bar, and saving

function renderBar() {
  const state = page.state;
  if (!page.chosen && state.raw) {
    // the case's own, until the reader chooses
    const own = unitOf(state.raw) === "in" ? "imperial" : "metric";
    byId("units").value = own;
    if (answers.units !== own) {
      answers.units = own;
      answers.render(state);
    }
  }
  byId("file-name").textContent = state.name || `a ${state.kind} without a file yet`;
  byId("file-state").textContent = state.not_kept || (state.unsaved ? "not saved; kept as a draft" : "saved");
  byId("undo").disabled = !state.undo;
  byId("redo").disabled = !state.redo;
  byId("tools").hidden = false;
  document.title = `${valueAt(state.raw || {}, ["title"]) || state.name || "New bow"} \u2013 bow sheet`;
  location.hash = state.name ? `file=${encodeURIComponent(state.name)}` : `desk=${page.desk}`;
}

async function save(name = null, over = false) {
  await settled();
  if (!page.state.name && !name) return saveAs();
  try {
    const answer = await ask("save", { desk: page.desk, version: page.state.version, at: page.at, name, over });
    apply(answer.state);
    notice(`saved as ${answer.state.name}`);
  } catch (error) {
    if (!(error instanceof Refused) || !error.answer.changed) return complain(error);
    const choice = await question("Something else is there", `${error.message}.`, [["as", "Save under another name"], ["over", "Overwrite it with what is here"], ["disk", "Throw away what is here, take the file"]]);
    if (choice === "over") return save(name, true);
    if (choice === "as") return saveAs();
    if (choice === "disk") return tell("step", { way: "disk" });
  }
}

async function saveAs() {
  const title = String(valueAt(page.state.raw || {}, ["title"]) || `my ${page.kind}`).toLowerCase().replace(/[^a-z0-9]+/g, "_").replace(/^_|_$/g, "").slice(0, 40);
  const answer = await question("Save as", "The case is a text file in the folder of this page.", [["save", "Save"]], { label: "name of the file", value: page.state.name || `${title || "my_bow"}.toml` });
  if (answer) await save(answer.text);
}

function focusOn(place) {
  const input = place.inputs.find((one) => !one.hidden);
  (input || place.box).scrollIntoView({ block: "center" });
  if (input) input.focus();
}

function go(loc) {
  for (let at = loc; at.length; at = at.slice(0, -1)) {
    const place = fields.places.get(JSON.stringify(at));
    if (place) return focusOn(place);
  }
  const inside = document.getElementById(`${loc[0]}-${loc[1]}`);
  if (inside) inside.scrollIntoView({ block: "center" });
}

function tool(kind) {
  drawing.tool = kind;
  for (const button of byId("placing").querySelectorAll("button")) button.setAttribute("aria-pressed", String(button.dataset.kind === kind));
  drawing.render();
}

// --- the file as it is

const text = new FileText(byId("sheet"), (typed) => tell("text", { text: typed }));

// --- where one begins

async function open(name, more) {
  try {
    const answer = await ask("open", more);
    byId("start").hidden = true;
    byId("sheet").hidden = false;
    byId("notice").replaceChildren();
    page.desk = answer.desk;
    page.state = null;
    page.at = null;
    page.logOf = undefined;
    page.kind = null;
    apply(answer.state, true);
    if (answer.state.restored) notice("This is your last draft, which was not saved.", answer.state.name ? [["Throw it away, take the file", () => tell("step", { way: "disk" })]] : []);
    await resume();
  } catch (error) {
    await complain(error);
  }
}

async function begin() {
  const start = await ask("start");
  fields.menus = start.menus;
  page.entry = start.entry;
  const wanted = new URLSearchParams(location.hash.slice(1));
  const box = byId("start");
  if (wanted.has("desk")) {
    const answer = await ask("look", { desk: wanted.get("desk") }).catch(() => null);
    if (answer) {
      byId("sheet").hidden = false;
      page.desk = wanted.get("desk");
      page.kind = null;
      apply(answer.state, true);
      return void resume().catch(complain);
    }
  }
  const first = wanted.get("file") || (wanted.has("start") ? null : start.first);
  if (first) {
    await open(first, { name: first });
    if (page.desk) return;
  }
  const choice = (title, said, more) => el("li", {}, el("button", { type: "button", onclick: () => open(null, more) }, el("b", { text: title }), said ? el("span", { text: said }) : null));
  box.replaceChildren(
    el("h2", { id: "start-title", text: "Which bow?" }),
    el("ul", { class: "choices" },
      ...(start.unnamed ? [choice("What was left unsaved", "the last bow without a file", { draft: true })] : []),
      choice("A new bow, in millimetres", "", { unit: "mm" }), choice("A new bow, in inches", "", { unit: "in" })),
    ...(start.cases.length ? [el("h2", { text: `In the folder ${start.folder}` }), el("ul", { class: "choices" }, ...start.cases.map((one) => choice(one.title, one.kind === "stave" ? `${one.name}, a stave` : one.name, { name: one.name })))] : []),
    el("h2", { text: "A stave, to find a bow in" }),
    el("ul", { class: "choices" }, choice("A new stave, in millimetres", "", { unit: "mm", stave: true }), choice("A new stave, in inches", "", { unit: "in", stave: true })),
    el("h2", { text: "A worked bow to start from" }),
    el("ul", { class: "choices" }, ...start.samples.map((one) => choice(one.title, one.question, { sample: one.name }))),
  );
  box.hidden = false;
}

function wire() {
  byId("undo").onclick = () => tell("step", { way: "undo" });
  byId("redo").onclick = () => tell("step", { way: "redo" });
  byId("save").onclick = () => save();
  byId("save-as").onclick = () => saveAs();
  byId("others").onclick = async () => { await settled(); location.hash = "start=1"; location.reload(); };
  byId("units").onchange = () => { page.chosen = true; answers.units = byId("units").value; answers.render(page.state); };
  byId("entry").onsubmit = (event) => event.preventDefault();
  window.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || !page.state || event.target.id === "text") return;
    const key = event.key.toLowerCase();
    const act = key === "s" ? () => save() : key === "z" ? () => tell("step", { way: event.shiftKey ? "redo" : "undo" }) : key === "y" ? () => tell("step", { way: "redo" }) : null;
    if (!act) return;
    event.preventDefault();
    if (key !== "s" && document.activeElement && document.activeElement.blur) document.activeElement.blur();
    act();
  });
  window.addEventListener("keydown", (event) => { if (event.key === "Escape" && drawing && drawing.tool) tool(null); });
  window.addEventListener("pagehide", () => { if (page.pending.length) send(true); });
  let width = window.innerWidth;
  window.addEventListener("resize", () => {
    if (Math.abs(window.innerWidth - width) < 4 && page.state) return;
    width = window.innerWidth;
    if (page.state) drawing.render();
  });
  const watch = async () => {
    if (document.visibilityState !== "visible" || !page.desk || page.pending.length || page.sending) return;
    try {
      const before = page.state.version;
      const answer = await ask("look", { desk: page.desk, at: page.at, unless: before });
      if (answer.state && !page.pending.length && !page.sending && page.state.version === before) apply(answer.state);
    } catch (error) {
      if (error instanceof Gone) notice(error.message, [], true);
    }
  };
  setInterval(watch, LOOK);
  window.addEventListener("focus", watch);
}

wire();
begin().catch((error) => notice(error.message, [], true));
