// The entry as cards: each is built from the schema, and built anew only when its parts change.

import { el, words } from "./make.js";
import { valueAt, shown } from "./fields.js";
import { Stations } from "./stations.js";

const FOLDED = [
  { id: "grain", title: "Grain", paths: [["grain"]] },
  { id: "shot", title: "Arrow, tips and shot", paths: [["arrow"], ["tips"], ["shot"]] },
  { id: "analysis", title: "Fineness of the finite elements", paths: [["analysis"]] },
];
const WOODS = ["whole", "heartwood", "sapwood", "backing"];

export class Cards {
  constructor(form, fields, change, say, tools) {
    this.form = form;
    this.fields = fields;
    this.change = change;
    this.stations = new Stations(fields, say, tools);
    this.made = new Map();
  }

  set entry(entry) {
    this.tables = new Map(entry.tables.map((table) => [table.path.join("."), table]));
    this.stations.desc = this.tables.get("limb.both");
    const card = (id, title, build, shape) => ({ id, title, build, shape });
    this.cards = [
      card("name", "", (raw) => [this.table([], raw)], (raw) => [this.strange([], raw)]),
      card("limbs", "Limbs", (raw, state) => this.limbs(raw, state), (raw, state) => this.limbShape(raw, state)),
      card("zones", "Knots and rot", (raw) => this.zones(raw), (raw) => ["knot", "decay"].map((kind) => this.zoneShape(kind, raw))),
      card("wood", "Wood", (raw) => this.woods(raw), (raw) => WOODS.map((name) => this.strange(["wood", name], raw))),
      ...[["section", "Cross-section"], ["grip", "Grip"], ["string", "String"], ["draw", "Draw"]].map(([name, title]) =>
        card(name, title, (raw) => [this.table([name], raw)], (raw) => [this.strange([name], raw)])),
      ...FOLDED.map((one) => ({
        ...card(one.id, one.title, (raw) => one.paths.map((path) => this.optional(path, raw)), (raw) => one.paths.map((path) => this.strange(path, raw))),
        folded: (raw) => !one.paths.some((path) => valueAt(raw, path) !== undefined),
      })),
    ];
    this.form.replaceChildren();
    this.made.clear();
    this.fields.places.clear();
  }

  // Keys unknown to the schema, and whether the table is there and names a unit.
  strange(path, raw) {
    const value = path.length ? valueAt(raw, path) : raw;
    if (value === null || typeof value !== "object") return value === undefined ? null : "a value";
    const desc = this.tables.get(path.join(".")) || this.tables.get("");
    const heads = path.length ? [] : [...this.tables.values()].map((table) => table.path[0]);
    return [Boolean(path.length && "unit" in value), Object.keys(value).filter((key) => key !== "unit" && !desc.fields.some((about) => about.key === key) && !heads.includes(key))];
  }

  zoneShape(kind, raw) {
    const zones = raw[kind];
    return Array.isArray(zones) ? zones.map((zone) => [Boolean(zone && zone.unit), Object.keys(zone || {}).filter((key) => key !== "unit" && !this.tables.get(kind).fields.some((about) => about.key === key))]) : zones === undefined ? null : "a value";
  }

  limbShape(raw, state) {
    const sides = this.sides(raw);
    return [raw.taper !== undefined && this.strange(["taper"], raw), sides.map((side) => this.stations.shape(side, raw, state.beside))];
  }

  sides(raw) {
    const limb = raw.limb && typeof raw.limb === "object" ? raw.limb : {};
    const sides = ["both", "upper", "lower"].filter((side) => limb[side] && typeof limb[side] === "object");
    return sides.length || raw.taper !== undefined ? sides : ["both"];
  }

  render(state) {
    const raw = state.raw;
    const active = document.activeElement;
    let kept = null;
    for (const place of this.fields.places.values()) if (place.inputs.includes(active)) kept = { place, value: active.value, from: active.selectionStart, to: active.selectionEnd, which: place.inputs.indexOf(active) };
    for (const card of this.cards) {
      const shape = JSON.stringify(card.shape(raw, state));
      const old = this.made.get(card.id);
      if (old && old.shape === shape) continue;
      const box = old ? old.box : this.frame(card, raw);
      this.fields.forget(box);
      box.querySelector(".inside").replaceChildren(...card.build(raw, state));
      this.made.set(card.id, { box, shape });
      if (!old) this.form.append(box);
    }
    this.fields.update(raw);
    if (kept && !document.contains(active)) this.refocus(kept);
    if (this.stations.after) {
      const [side, name, row] = this.stations.after;
      this.stations.after = null;
      const input = this.stations.cells.get(`${side} ${name} ${row}`);
      if (input) input.focus();
    }
  }

  refocus(kept) {
    const place = this.fields.places.get(JSON.stringify(kept.place.loc));
    const input = place && place.inputs[kept.which];
    if (!input) return;
    input.focus();
    if (typeof kept.from === "number" && input.setSelectionRange) {
      input.value = kept.value;
      input.setSelectionRange(kept.from, kept.to);
    }
  }

  frame(card, raw) {
    const inside = el("div", { class: "inside" });
    if (!card.folded) return el("section", { class: "entry-card", id: `card-${card.id}`, "aria-label": card.title || "the case" }, card.title ? el("h2", { text: card.title }) : null, inside);
    return el("section", { class: "entry-card", id: `card-${card.id}`, "aria-label": card.title }, el("details", { open: !card.folded(raw) }, el("summary", {}, el("h2", { text: card.title })), inside));
  }

  table(path, raw) {
    // tables with a heading of their own are on cards of their own
    const heads = path.length ? [] : [...this.tables.values()].map((table) => table.path[0]);
    return this.fields.table(this.tables.get(path.join(".")), path, raw, heads);
  }

  optional(path, raw) {
    const desc = this.tables.get(path.join("."));
    const there = valueAt(raw, path) !== undefined;
    return el("div", {}, el("h3", { text: words(path[path.length - 1]) }), el("p", { class: "hint", text: desc.about }), this.table(path, raw),
      there ? el("button", { type: "button", class: "plain", text: `Say nothing of ${words(path[0])}`, onclick: () => this.change([{ do: "drop", loc: path }], "") }) : null);
  }

  limbs(raw, state) {
    const made = [this.fields.room(["limb"])];
    if (raw.taper !== undefined) {
      made.push(el("p", { class: "hint", text: "Both limbs follow from a strategy; measured stations may take its place." }), this.table(["taper"], raw),
        el("button", { type: "button", class: "plain", text: "Enter measured stations instead", onclick: () => this.change([{ do: "drop", loc: ["taper"] }, { do: "add", loc: ["limb", "both"], values: {} }], "") }));
      return made;
    }
    const sides = this.sides(raw);
    for (const side of sides)
      made.push(el("h3", { text: { both: "Both limbs alike", upper: "Upper limb", lower: "Lower limb" }[side] }), this.stations.build(side, raw, state.beside));
    const copy = (text, from, to) => el("button", { type: "button", class: "plain", text, onclick: () => this.change([{ do: "copy_limb", from, to }], "") });
    const bar = el("div", { class: "row" });
    if (sides.includes("both")) {
      bar.append(copy("The limbs differ: enter each", "both", "upper"));
      bar.append(el("button", { type: "button", class: "plain", text: "No stations yet: make the limbs by a taper", onclick: () => this.change([{ do: "drop", loc: ["limb"] }, { do: "add", loc: ["taper"], values: {} }, { do: "unit", loc: ["taper"], unit: "mm" }], "") }));
    } else {
      if (sides.includes("upper")) bar.append(copy("Copy the upper limb to the lower", "upper", "lower"), copy("Both alike, as the upper", "upper", "both"));
      if (sides.includes("lower")) bar.append(copy("Copy the lower limb to the upper", "lower", "upper"));
    }
    made.push(bar);
    return made;
  }

  zones(raw) {
    const made = [this.fields.room(["knot"]), this.fields.room(["decay"])];
    for (const kind of ["knot", "decay"]) {
      const desc = this.tables.get(kind);
      const zones = Array.isArray(raw[kind]) ? raw[kind] : [];
      zones.forEach((zone, k) => {
        const title = kind === "knot" ? "Knot" : "Patch of rot";
        const box = el("fieldset", { class: "zone-entry", id: `${kind}-${k}` }, el("legend", { text: `${title} ${k + 1}` }), this.fields.table(desc, [kind, k], raw),
          el("button", { type: "button", class: "plain", text: `Take this ${kind === "knot" ? "knot" : "patch"} out`, onclick: () => this.change([{ do: "drop", loc: [kind, k] }], "") }));
        made.push(box);
      });
    }
    const add = (kind, text) => el("button", { type: "button", text, onclick: () => {
      this.change([{ do: "add", loc: [kind], values: { name: this.freeName(raw) } }], "");
      this.next = [kind, (Array.isArray(this.raw()[kind]) ? this.raw()[kind] : []).length, "limb"];
    } });
    made.push(el("p", { class: "hint", text: "Place them on the drawing, or enter them here." }), el("div", { class: "row" }, add("knot", "Add a knot"), add("decay", "Add a patch of rot")));
    return made;
  }

  freeName() {
    const raw = this.raw();
    const taken = new Set(["knot", "decay"].flatMap((kind) => (Array.isArray(raw[kind]) ? raw[kind] : []).map((zone) => shown(zone && zone.name))));
    for (let k = 0; ; k++) {
      const name = String.fromCharCode(65 + (k % 26)) + (k >= 26 ? Math.floor(k / 26) : "");
      if (!taken.has(name)) return name;
    }
  }

  woods(raw) {
    const there = WOODS.filter((name) => valueAt(raw, ["wood", name]) !== undefined);
    const shownWoods = there.length ? there : ["whole"];
    const made = [this.fields.room(["wood"])];
    const titles = { whole: "The whole stave", heartwood: "Heartwood", sapwood: "Sapwood", backing: "Strip glued on the back" };
    for (const name of shownWoods) {
      made.push(el("h3", { text: titles[name] }), this.table(["wood", name], raw));
      if (name !== "whole" && name !== "heartwood")
        made.push(el("button", { type: "button", class: "plain", text: `Say nothing of the ${name}`, onclick: () => this.change([{ do: "drop", loc: ["wood", name] }], "") }));
    }
    const bar = el("div", { class: "row" });
    const add = (text, edits) => bar.append(el("button", { type: "button", class: "plain", text, onclick: () => this.change(edits, "") }));
    const species = shown(valueAt(raw, ["wood", "whole", "species"]));
    if (there.includes("whole")) add("Heartwood and sapwood differ", [{ do: "rename", loc: ["wood", "whole"], to: "heartwood" }, { do: "add", loc: ["wood", "sapwood"], values: { species } }]);
    else if (there.includes("heartwood") && !there.includes("sapwood")) add("Its sapwood differs", [{ do: "add", loc: ["wood", "sapwood"], values: { species: shown(valueAt(raw, ["wood", "heartwood", "species"])) } }]);
    if (!there.includes("backing")) add("A strip is glued on the back", [{ do: "add", loc: ["wood", "backing"], values: {} }]);
    made.push(bar);
    return made;
  }
}
