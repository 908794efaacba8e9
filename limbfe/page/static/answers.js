// What the bow does: the draw as it is typed, the verdicts when they are asked for.

import { el } from "./make.js";

export const SIGNS = { sound: "\u2713", watch: "!", "expect a split": "\u2715", "expect rupture": "\u2715" };
const PERCENT = new Set(["back", "belly", "used"]);

export class Answers {
  constructor(box, act) {
    this.box = box;
    this.act = act; // { assess(), cancel(), keep() }
    this.drawn = null;
    this.before = null;
    this.assessed = null;
    this.units = "metric";
    this.running = null;
    this.words = ""; // of the judging
    this.drawWords = ""; // of the draw
    this.head = el("div", { class: "weight", "aria-live": "polite" });
    this.facts = el("div");
    this.todo = el("div", { class: "todo" });
    this.work = el("div", { class: "work", "aria-live": "polite" });
    this.found = el("div", { class: "found" });
    box.append(this.head, this.todo, this.facts, this.work, this.found);
  }

  render(state) {
    this.state = state;
    this.renderHead(state);
    this.renderFacts();
    this.renderWork(state);
    this.renderFound(state);
  }

  get stale() {
    return !this.drawn || this.drawn.digest !== this.state.digest;
  }

  fact(key) {
    return this.drawn && this.drawn.facts.find((one) => one.key === key);
  }

  renderHead(state) {
    const weight = this.fact("weight");
    const draw = this.fact("draw");
    if (!weight) {
      this.head.replaceChildren(el("p", { class: "none", text: state.sound ? (this.drawWords || "drawing the bow \u2026") : "The draw weight appears here once the measures are whole." }));
      return;
    }
    const other = this.units === "metric" ? "imperial" : "metric";
    const old = this.stale ? el("p", { class: "old", text: state.sound ? (this.drawWords || "drawing anew \u2026") : "of before the last change: what is missing or wrong is said below" }) : null;
    this.head.classList.toggle("stale", this.stale);
    this.head.replaceChildren(
      el("p", { class: "big" }, el("b", { id: "draw-weight", text: weight[this.units] }), ` at ${draw[this.units]}`),
      el("p", { class: "small", text: `${weight[other]} at ${draw[other]}` }),
      ...(old ? [old] : []),
      ...(this.drawn.breaks ? [el("p", { class: "bad", text: "\u2715 breaks or gives way while it is braced: see below" })] : []),
    );
  }

  renderFacts() {
    if (!this.drawn) {
      this.facts.replaceChildren();
      return;
    }
    const before = new Map((this.before || []).map((one) => [one.key, one]));
    const moved = this.before && this.drawn.facts.some((one) => before.get(one.key) && change(one, before.get(one.key)));
    const rows = this.drawn.facts.map((one) => {
      const was = before.get(one.key);
      return el("tr", {}, el("th", { scope: "row", text: one.words }), el("td", { text: one[this.units] }),
        moved ? el("td", { class: "was", text: was ? was[this.units].split(",")[0] : "" }) : null,
        moved ? el("td", { class: "change", text: was ? change(one, was) : "" }) : null);
    });
    const head = moved ? [el("thead", {}, el("tr", {}, el("td"), el("th", { scope: "col", text: "now" }), el("th", { scope: "col", text: "before" }), el("th", { scope: "col", text: "change" })))] : [];
    const said = this.drawn.said[this.units];
    this.facts.replaceChildren(
      el("table", { class: `facts ${this.stale ? "stale" : ""}` }, ...head, el("tbody", {}, ...rows)),
      ...(moved ? [el("button", { type: "button", class: "plain", text: "Compare with how it is now", onclick: () => this.act.keep() })] : []),
      ...(said.length ? [el("details", { class: "cautions", open: this.drawn.breaks }, el("summary", { text: `${said.length} ${said.length === 1 ? "caution" : "cautions"}` }), el("ul", {}, ...said.map((text) => el("li", { text }))))] : []),
    );
  }

  // What is still to be put right, each with the way to its field.
  tell(places, left, message) {
    const items = places.map(({ fault, place }) => {
      const name = place.loc.map((part) => (typeof part === "number" ? part + 1 : part.replaceAll("_", " "))).join(" ");
      return el("li", {}, el("button", { type: "button", class: "plain", text: name, onclick: () => this.act.go(place.loc) }), ` ${fault.words.replace(/^is missing: /, "still needed: ")}`);
    });
    items.push(...left.map((fault) => el("li", { text: `${fault.line ? `line ${fault.line} of the file: ` : fault.loc.length ? `${fault.loc.join(" ")}: ` : ""}${fault.words}` })));
    const count = items.length;
    this.todo.replaceChildren(...(count ? [el("details", { open: count < 5 }, el("summary", { text: `${count} ${count === 1 ? "thing" : "things"} to put right` }), el("ul", {}, ...items))] : []));
    this.todo.title = message;
  }

  renderWork(state) {
    if (this.running) {
      this.work.replaceChildren(
        el("p", { class: "stage", text: `${this.running.stage} \u2026` }),
        el("progress", { "aria-label": "assessment" }),
        el("button", { type: "button", id: "cancel", text: "Cancel", onclick: () => this.act.cancel() }),
      );
      return;
    }
    this.work.replaceChildren(
      el("button", { type: "button", id: "assess", class: "main", text: "Judge every part", disabled: !state.sound, onclick: () => this.act.assess() }),
      el("p", { class: "hint", text: "knots, rot and clear wood; a quarter of a minute, more where there are many" }),
      ...(this.words ? [el("p", { class: "bad", text: this.words })] : []),
    );
  }

  renderFound(state) {
    const found = this.assessed && this.assessed.result;
    if (!found) {
      this.found.replaceChildren();
      return;
    }
    const old = this.assessed.digest !== state.digest;
    const name = found.verdict.replaceAll(" ", "-");
    this.found.replaceChildren(
      el("div", { class: `answer ${name} ${old ? "stale" : ""}` }, badge(found.verdict), el("p", { id: "verdict", text: found.sentence })),
      ...(old ? [el("p", { class: "old", text: "of before your last changes: judge it again" })] : []),
      el("p", {}, el("b", { text: "Next: " }), found.next),
      ...found.zones.map((zone) => el("article", { class: `card ${zone.verdict.replaceAll(" ", "-")} ${old ? "stale" : ""}` },
        el("h3", {}, `${zone.kind === "knot" ? "Knot" : "Rot"} ${zone.name} `, badge(zone.verdict)),
        el("p", { text: zone.words }), el("p", {}, el("b", { text: "What to do: " }), zone.advice))),
      el("p", { class: "links" },
        el("a", { href: `report/${this.assessed.number}`, target: "_blank", rel: "noopener", text: "The whole report" }), " ",
        el("a", { href: `report/${this.assessed.number}#shop`, target: "_blank", rel: "noopener", text: "Shop sheet to print" })),
      el("p", { class: "hint", text: found.safety }),
    );
  }

  // The verdict of every zone, for the drawing.
  verdicts() {
    const found = this.assessed && this.assessed.result;
    return new Map((found ? found.zones : []).map((zone) => [`${zone.kind} ${zone.name}`, { verdict: zone.verdict, sign: SIGNS[zone.verdict] }]));
  }
}

export function badge(verdict) {
  return el("strong", { class: `badge ${verdict.replaceAll(" ", "-")}` }, el("span", { "aria-hidden": "true", text: SIGNS[verdict] }), ` ${verdict}`);
}

function change(now, was) {
  if (PERCENT.has(now.key)) {
    const points = 100 * (now.value - was.value);
    const digits = now.key === "used" ? 0 : 2;
    return Math.abs(points) < 0.5 / 10 ** digits ? "" : `${points > 0 ? "+" : "\u2212"}${Math.abs(points).toFixed(digits)} points`;
  }
  const share = was.value ? 100 * (now.value - was.value) / Math.abs(was.value) : 0;
  return Math.abs(share) < 0.05 ? "" : `${share > 0 ? "+" : "\u2212"}${Math.abs(share).toFixed(1)} %`;
}
