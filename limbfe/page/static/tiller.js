// The tillering log: a reading is in its file as soon as it is entered; the fit says what it means.

import { el, svg, words, newId } from "./make.js";

const LENGTHS = ["mm", "in"];
const FORCES = ["N", "lbf", "kgf"];
const MAIN = ["date", "draw_length", "draw_force", "upper_tip", "lower_tip"];
const PLACE = ["limb", "at", "position"];
const DAY = ["set", "moisture"];
const NAMES = {
  date: "date", draw_length: "drawn to", draw_force: "weight there", upper_tip: "upper tip", lower_tip: "lower tip",
  limb: "limb", at: "at", position: "stands at", set: "set", moisture: "moisture",
};
const ABOUT = {
  date: "of the session: year, month, day",
  draw_length: "from the back of the grip to the string, or the word braced",
  draw_force: "on the scale",
  upper_tip: "how far its back stands towards the archer from the back of the grip; minus while it is still ahead of it",
  lower_tip: "the same below",
  limb: "upper or lower",
  at: "how far along the back from the middle of the grip",
  position: "how far its back stands towards the archer there, as for a tip",
  set: "how far the unstrung tips have come towards the archer; once a day",
  moisture: "of the wood; once a day",
};

export class Tiller {
  constructor(box, act) {
    this.box = box;
    this.act = act; // { change(question), fit(asked), cancel(), say(text, buttons), units() }
    this.log = undefined;
    this.job = null;
    this.line = null; // of the reading that is being changed
    this.inputs = {};
    this.said = el("p", { class: "fault", role: "alert", hidden: true });
    this.state = el("div");
    this.table = el("div");
    this.work = el("div", { class: "work", "aria-live": "polite" });
    this.found = el("div", { class: "found" });
    this.details = el("details", {}, el("summary", {}, el("h2", { text: "On the tiller" })), this.state,
      this.form(), this.table, this.ask(), this.work, this.found);
    // until it is known whether there is a log
    this.fields.hidden = this.asked.hidden = true;
    box.append(this.details);
  }

  // --- what is typed

  form() {
    const field = (key) => {
      const id = newId();
      const input = key === "limb"
        ? el("select", { id }, el("option", { value: "", text: "\u2013" }), el("option", { value: "upper", text: "upper" }), el("option", { value: "lower", text: "lower" }))
        : el("input", { id, type: key === "date" ? "date" : "text", spellcheck: "false" });
      input.setAttribute("aria-describedby", `${id}-hint`);
      input.addEventListener("input", () => this.keep());
      this.inputs[key] = input;
      const unit = el("small", { class: "unit" });
      this.unitWords ||= {};
      this.unitWords[key] = unit;
      return el("div", { class: "field" }, el("label", { for: id }, NAMES[key], " ", unit), input, el("p", { class: "hint", id: `${id}-hint`, text: ABOUT[key] }));
    };
    this.length = el("select", { onchange: () => this.unitsShown() }, ...LENGTHS.map((unit) => el("option", { value: unit, text: unit })));
    this.force = el("select", { onchange: () => this.unitsShown() }, ...FORCES.map((unit) => el("option", { value: unit, text: unit })));
    this.chosen = el("div", { class: "row" }, el("label", {}, "lengths in ", this.length), el("label", {}, "weights in ", this.force));
    this.enter = el("button", { type: "submit", class: "main", text: "Write it down" });
    this.undoing = el("button", { type: "button", class: "plain", text: "Undo the last change of the log", onclick: () => this.undo() });
    this.back = el("button", { type: "button", text: "Leave it as it was", hidden: true, onclick: () => this.change(null) });
    this.fields = el("form", { class: "reading", "aria-label": "one reading", autocomplete: "off", novalidate: true,
      onsubmit: (event) => { event.preventDefault(); this.write(); } },
      this.chosen,
      el("div", { class: "with-picture" }, el("div", { class: "fields" }, ...MAIN.map(field)), picture()),
      el("details", { class: "more" }, el("summary", { text: "a place along the limb was read, or set and moisture of the day" }),
        el("div", { class: "fields" }, ...PLACE.map(field), ...DAY.map(field))),
      this.said, el("div", { class: "row" }, this.enter, this.back, this.undoing));
    return this.fields;
  }

  get key() {
    return `tiller ${this.log ? this.log.name : ""}`;
  }

  // What is typed and not written yet outlives a reload of this tab.
  keep() {
    const typed = Object.fromEntries(Object.entries(this.inputs).map(([key, input]) => [key, input.value]));
    sessionStorage.setItem(this.key, JSON.stringify({ typed, line: this.line }));
  }

  restore() {
    let kept = null;
    try {
      kept = JSON.parse(sessionStorage.getItem(this.key));
    } catch {
      kept = null;
    }
    const typed = (kept && kept.typed) || {};
    for (const [key, input] of Object.entries(this.inputs)) input.value = typeof typed[key] === "string" ? typed[key] : "";
    if (!this.inputs.date.value) this.inputs.date.value = today();
    this.line = null;
    if ([...PLACE, ...DAY].some((key) => this.inputs[key].value)) this.fields.querySelector("details").open = true;
  }

  async write() {
    const typed = {};
    for (const [key, input] of Object.entries(this.inputs)) if (input.value.trim()) typed[key] = input.value.trim();
    const answer = await this.act.change({ digest: this.log.digest, words: typed, line: this.line, units: { length: this.length.value, force: this.force.value } });
    this.fail(answer && answer.error);
    if (!answer || answer.error) return;
    // the next one is most likely of the same day
    for (const [key, input] of Object.entries(this.inputs)) if (key !== "date") input.value = "";
    this.line = null;
    this.keep();
    this.show(answer.log);
    this.inputs.draw_length.focus();
  }

  async takeOut(row) {
    const answer = await this.act.change({ digest: this.log.digest, words: null, line: row.line, units: {} });
    this.fail(answer && answer.error);
    if (!answer || answer.error) return;
    this.show(answer.log);
  }

  async undo() {
    const answer = await this.act.change({}, "log_undo");
    this.fail(answer && answer.error);
    if (answer && !answer.error) this.show(answer.log);
  }

  change(row, date) {
    this.line = row ? row.line : null;
    for (const [key, input] of Object.entries(this.inputs)) input.value = row ? row.words[key] || "" : "";
    this.inputs.date.value = row ? isoDate(row.words.date || date || "") : today();
    this.fail("");
    this.shown();
    if (row) {
      if ([...PLACE, ...DAY].some((key) => row.words[key])) this.fields.querySelector("details").open = true;
      this.inputs.draw_length.focus();
    }
  }

  fail(text) {
    this.said.hidden = !text;
    this.said.textContent = text ? `\u2715 ${text}` : "";
  }

  // --- what stands there

  show(log, imperial = false) {
    const other = this.log === undefined || (this.log && this.log.name) !== (log && log.name);
    this.log = log;
    this.fields.hidden = !log;
    this.asked.hidden = !log || !log.sessions.length;
    if (!log) {
      this.state.replaceChildren(el("p", { class: "hint", text: "Save the bow first: its tillering log is a file beside it." }));
      this.table.replaceChildren();
      return;
    }
    if (other) {
      this.restore();
      this.found.replaceChildren();
      this.length.value = imperial ? "in" : "mm";
      this.force.value = imperial ? "lbf" : "N";
      if (log.sessions.length) this.details.open = true;
    }
    const fresh = log.digest === null;
    this.state.replaceChildren(
      el("p", { class: "hint" }, fresh ? "Every reading is written at once into " : "Every reading is in ", el("b", { text: log.name }),
        fresh ? ", a table beside the case that any spreadsheet opens." : ", beside the case."),
      ...(log.message ? [el("p", { class: "fault", text: `\u2715 ${log.message}` })] : []));
    this.shown();
    this.readings();
  }

  shown() {
    const log = this.log;
    this.chosen.hidden = log.digest !== null;
    this.inputs.date.closest(".field").hidden = !log.dated;
    this.enter.textContent = this.line === null ? "Write it down" : `Change line ${this.line}`;
    this.back.hidden = this.line === null;
    this.undoing.disabled = !log.undo;
    this.unitsShown();
  }

  unitsShown() {
    for (const [key, unit] of Object.entries(this.unitWords)) {
      const own = this.log.units[key] || { draw_force: this.force.value, moisture: "%", date: "", limb: "" }[key];
      unit.textContent = own === undefined ? this.log.units.draw_length || this.length.value : own;
    }
  }

  readings() {
    const sessions = this.log.sessions.map((session, k) => {
      const columns = [...MAIN.slice(1), ...PLACE, ...DAY].filter((key) => session.rows.some((row) => row.words[key]));
      const head = el("tr", {}, ...columns.map((key) => el("th", { scope: "col" }, NAMES[key], el("small", { text: this.log.units[key] || "" }))), el("td"));
      const rows = session.rows.map((row) => el("tr", {}, ...columns.map((key) => el("td", { text: row.words[key] || "" })),
        el("td", { class: "acts" },
          el("button", { type: "button", class: "plain", text: "Change", "aria-label": `Change the reading of line ${row.line}`, onclick: () => this.change(row, session.date) }),
          el("button", { type: "button", class: "plain", text: "Take out", "aria-label": `Take out the reading of line ${row.line}`, onclick: () => this.takeOut(row) }))));
      return el("details", { class: "session", open: k === this.log.sessions.length - 1 },
        el("summary", { text: `${session.date || "one session"}: ${session.rows.length} ${session.rows.length === 1 ? "line" : "lines"}` }),
        el("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": `readings of ${session.date || "the session"}` }, el("table", { class: "facts log" }, el("thead", {}, head), el("tbody", {}, ...rows))));
    });
    this.table.replaceChildren(...sessions);
  }

  // --- what it means

  ask() {
    const weight = newId(), hold = newId();
    this.weight = el("input", { id: weight, type: "text", placeholder: "such as 45 lbf", spellcheck: "false", "aria-describedby": `${weight}-hint` });
    this.hold = el("select", { id: hold }, ...[["tiller", "on a cradle, free to rock"], ["hand", "by a hand"], ["clamp", "clamped"]].map(([value, text]) => el("option", { value, text })));
    this.first = el("input", { type: "checkbox" });
    this.asked = el("div", { class: "asked" }, el("h3", { text: "What the readings say" }),
      el("div", { class: "fields" },
        el("div", { class: "field" }, el("label", { for: weight, text: "draw weight wanted in the end" }), this.weight, el("p", { class: "hint", id: `${weight}-hint`, text: "at the draw of the case; left empty, nothing is said of where to take wood" })),
        el("div", { class: "field" }, el("label", { for: hold, text: "how the grip was held" }), this.hold)),
      el("label", { class: "tick" }, this.first, " it was never drawn this far before these readings"));
    return this.asked;
  }

  renderWork(sound) {
    if (!this.log || !this.log.sessions.length) return void this.work.replaceChildren();
    if (this.job && this.job.state === "runs") {
      this.work.replaceChildren(el("p", { class: "stage", text: `${this.job.stage} \u2026` }), el("progress", { "aria-label": "fit" }),
        el("button", { type: "button", id: "fit-cancel", text: "Cancel", onclick: () => this.act.cancel() }));
      return;
    }
    this.work.replaceChildren(
      el("button", { type: "button", id: "fit", class: "main", disabled: !sound, text: "Fit the wood, say where to take it off",
        onclick: () => this.act.fit({ weight: this.weight.value, hold: this.hold.value, first_pull: this.first.checked }) }),
      ...(this.job && this.job.state === "failed" ? [el("p", { class: "bad", text: this.job.words })] : []));
  }

  renderFound(digest) {
    const found = this.job && this.job.result;
    if (!found) return void this.found.replaceChildren();
    const old = this.job.digest !== digest;
    this.found.replaceChildren(
      ...(old ? [el("p", { class: "old", text: "of before your last changes of the case: fit it again" })] : []),
      ...this.taking(found), ...this.wood(found.fit), ...this.days(found.fit.log),
      ...list("Mind", found.fit.mind), ...list("Assumed", found.fit.assumed, true));
  }

  taking(found) {
    if (found.no_list) return [el("h3", { text: "Take wood here" }), el("p", { class: "bad", text: found.no_list })];
    const take = found.take;
    if (!take) return [];
    return [el("h3", { text: "Take wood here" }), el("p", {}, el("b", { text: take.now }), ` now, ${take.wanted} wanted at ${take.at}; ${take.tiller} as it is. The strokes are numbered on the drawing.`),
      el("ol", { class: "strokes" }, ...take.lines.map((line) => el("li", { text: line.words }))), ...take.end.map((text) => el("p", { text }))];
  }

  wood(fit) {
    const told = fit.stations.filter((one) => one.finding !== "not known");
    const table = (caption, heads, rows) => el("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": caption }, el("table", { class: "facts" }, el("caption", { text: caption }),
      el("thead", {}, el("tr", {}, ...heads.map((text) => el("th", { scope: "col", text })))), el("tbody", {}, ...rows.map((row) => el("tr", {}, ...row.map((text) => el("td", { text })))))));
    return [
      el("h3", { text: "Stiffness along the grain" }),
      table(`fitted to ${fit.count} readings`, ["wood", "fitted", "95 in 100 between", "the case has", "told by the readings"], fit.woods.map((one) => [words(one.wood), one.value, one.between, one.case, one.told])),
      ...(told.length
        ? [table("places beside their measures", ["limb", "at", "stiffness", "95 in 100 between", "as if thicker by", ""], told.map((one) => [one.limb, one.at, one.ratio.toFixed(2), `${one.low.toFixed(2)} and ${one.high.toFixed(2)}`, one.thicker, one.finding]))]
        : [el("p", { text: "The readings do not say where the limbs are stiffer or softer than measured." })]),
      ...(fit.suspects.length ? [table("readings to read again", ["line", "read", "computed", "off by, deviations"], fit.suspects.map((one) => [String(one.line), one.read, one.computed, one.off]))] : []),
    ];
  }

  days(log) {
    if (!log) return [];
    const heads = ["date", "read to", "weight there", `weight at ${log.common}`, "set", "moist", "upper limb", "lower limb"];
    const keys = ["date", "furthest", "force", "weight", "set", "moisture", "upper", "lower"];
    return [el("h3", { text: "Day by day" }),
      el("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "the log day by day" }, el("table", { class: "facts" },
        el("thead", {}, el("tr", {}, ...heads.map((text) => el("th", { scope: "col", text })))),
        el("tbody", {}, ...log.sessions.map((one) => el("tr", {}, ...keys.map((key) => el("td", { text: one[key] }))))))),
      el("p", { class: "hint", text: "limbs: stiffness over that of the case" }),
      ...log.changes.flatMap((change) => list(`Changed by ${change.date}`, change.said))];
  }

  // Strokes of the list, for the drawing.
  strokes() {
    const take = this.job && this.job.result && this.job.result.take;
    return take ? take.lines : [];
  }
}

function list(title, lines, folded = false) {
  if (!lines.length) return [];
  return [el("details", { class: "cautions", open: !folded }, el("summary", { text: title }), el("ul", {}, ...lines.map((text) => el("li", { text }))))];
}

function today() {
  const now = new Date();
  return `${now.getFullYear()}-${String(now.getMonth() + 1).padStart(2, "0")}-${String(now.getDate()).padStart(2, "0")}`;
}

// A date as its field takes it; a log may also say 5.3.2024.
function isoDate(text) {
  const german = /^(\d{1,2})\.(\d{1,2})\.(\d{4})$/.exec(text);
  const plain = /^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})$/.exec(text);
  const [year, month, day] = plain ? plain.slice(1) : german ? [german[3], german[2], german[1]] : ["", "", ""];
  return year ? `${year}-${month.padStart(2, "0")}-${day.padStart(2, "0")}` : "";
}

// The bow lying on the tiller, belly down, and what is read there.
function picture() {
  const line = (d, cls) => svg("path", { d, class: cls });
  const word = (x, y, text, anchor = "middle") => svg("text", { x, y, class: "word", "text-anchor": anchor, text });
  return svg("svg", { class: "tiller-picture", viewBox: "0 0 300 170", role: "img", "aria-label": "The bow on the tiller, back up: draw length goes from the back of the grip to the string; a tip is read from the level of the back of the grip down to the back of the tip." },
    line("M22 78Q70 30 130 26L170 26Q230 30 278 78L273 81Q226 36 168 34L132 34Q74 36 27 81Z", "limb back"),
    line("M26 80L150 140L274 80", "string"),
    line("M150 26L150 140M144 33L150 26L156 33M144 133L150 140L156 133", "arrow"),
    line("M10 26L290 26", "level"),
    line("M278 26L278 77M273 32L278 26L283 32M273 71L278 77L283 71M22 26L22 77M17 32L22 26L27 32M17 71L22 77L27 71", "arrow"),
    word(156, 104, "drawn to", "start"), word(272, 56, "upper tip", "end"), word(28, 56, "lower tip", "start"), word(150, 16, "level of the back of the grip"), word(150, 160, "weight on the scale"));
}
