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

const ZONES = {
  knot: { title: "Knot", add: "Add a knot", out: "Take this knot out" },
  check: { title: "Crack", add: "Add a crack", out: "Take this crack out" },
  decay: { title: "Patch of rot", add: "Add a patch of rot", out: "Take this patch out" },
};
const WANTED = ["taper", "section", "grip", "string", "draw"];

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
    this.stave = this.tables.has("stave");
    this.zoneKinds = this.stave ? ["knot", "check", "decay"] : ["knot", "decay"];
    this.stations.desc = this.tables.get(this.stave ? "stave" : "limb.both");
    const card = (id, title, build, shape) => ({ id, title, build, shape });
    this.cards = this.stave ? this.ofStave(card) : this.ofBow(card);
    this.form.replaceChildren();
    this.made.clear();
    this.fields.places.clear();
  }

  ofStave(card) {
    const plain = (name, title) => card(name, title, (raw) => [this.table([name], raw)], (raw) => [this.strange([name], raw)]);
    return [
      card("name", "", (raw) => [this.table([], raw)], (raw) => [this.strange([], raw)]),
      card("stave", "The stave, back up", (raw, state) => this.measures(raw, state), (raw, state) => [this.stations.shape("stave", raw, state.beside), this.strange(["stave"], raw)]),
      card("zones", "Knots, cracks and rot", (raw) => this.zones(raw), (raw) => this.zoneKinds.map((kind) => this.zoneShape(kind, raw))),
      card("wanted", "The bow wanted of it", (raw) => this.wanted(raw), (raw) => ["bow", ...WANTED].map((name) => this.strange([name], raw))),
      plain("spare", "What must be left over"),
      card("fix", "What is settled of the line", (raw) => this.settled(raw), (raw) => [this.strange(["fix"], raw), this.points(raw).length]),
      card("cut", "Stages of roughing", (raw) => this.cuts(raw), (raw) => this.zoneShape("cut", raw)),
      card("wood", "Wood of the stave", (raw) => this.woods(raw), (raw) => WOODS.map((name) => this.strange(["wood", name], raw))),
      { ...plain("grain", "Grain"), folded: (raw) => raw.grain === undefined },
    ];
  }

  ofBow(card) {
    return [
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
  }

  // The stations of a stave, and what is said of it as a whole.
  measures(raw, state) {
    const desc = this.tables.get("stave");
    const columns = desc.fields.filter((about) => about.kind === "column").map((about) => about.key);
    return [
      el("p", { class: "hint", text: "Stand at the butt and look to the top: left and right of a line snapped on the back." }),
      this.stations.build("stave", raw, state.beside),
      this.fields.table({ ...desc, unit: false, fields: desc.fields.filter((about) => about.kind !== "column") }, ["stave"], raw, columns),
    ];
  }

  wanted(raw) {
    const made = [this.table(["bow"], raw)];
    for (const name of WANTED) if (raw[name] !== undefined) made.push(el("h3", { text: words(name) }), this.table([name], raw));
    const bar = el("div", { class: "row" });
    const act = (text, edits) => bar.append(el("button", { type: "button", class: "plain", text, onclick: () => this.change(edits, "") }));
    if (raw.taper === undefined)
      act("No case yet: make the limbs by a taper", [{ do: "drop", loc: ["bow", "case"] }, { do: "add", loc: ["taper"], values: {} }, { do: "unit", loc: ["taper"], unit: "mm" }, ...WANTED.slice(1).map((name) => ({ do: "add", loc: [name], values: {} }))]);
    else act("Take a case of this folder instead", WANTED.map((name) => ({ do: "drop", loc: [name] })));
    made.push(bar);
    return made;
  }

  points(raw) {
    const points = valueAt(raw, ["fix", "through"]);
    return Array.isArray(points) ? points : [];
  }

  settled(raw) {
    const desc = this.tables.get("fix");
    const made = [el("p", { class: "hint", text: "Left empty, the search finds it. Points of the line may be placed and dragged on the drawing." }),
      this.fields.table({ ...desc, fields: desc.fields.filter((about) => about.key !== "through") }, ["fix"], raw, ["through"]), this.fields.room(["fix", "through"])];
    const parts = desc.fields.find((about) => about.key === "through").parts.filter((part) => part.key !== "unit");
    this.points(raw).forEach((_, k) => made.push(el("fieldset", { class: "zone-entry", id: `point-${k}` }, el("legend", { text: `The line passes here, ${k + 1}` }),
      el("div", { class: "fields" }, ...parts.map((part) => this.fields.field(["fix", "through", k, part.key], part, raw))),
      el("button", { type: "button", class: "plain", text: "Take this point out", onclick: () => this.change([{ do: "drop", loc: ["fix", "through", k] }], "") }))));
    made.push(el("div", { class: "row" }, el("button", { type: "button", text: "Add a point of the line", onclick: () => this.change([{ do: "point", values: { at: "", across: "" } }], "") })));
    return made;
  }

  cuts(raw) {
    const desc = this.tables.get("cut");
    const cuts = Array.isArray(raw.cut) ? raw.cut : [];
    return [this.fields.room(["cut"]), ...cuts.map((_, k) => el("fieldset", { class: "zone-entry", id: `cut-${k}` }, el("legend", { text: `Stage ${k + 1}` }), this.fields.table(desc, ["cut", k], raw),
      el("button", { type: "button", class: "plain", text: "Take this stage out", onclick: () => this.change([{ do: "drop", loc: ["cut", k] }], "") }))),
      el("div", { class: "row" }, el("button", { type: "button", text: "Add a stage", onclick: () => this.change([{ do: "add", loc: ["cut"], values: { name: `cut ${cuts.length + 1}` } }], "") }))];
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
    const made = this.zoneKinds.map((kind) => this.fields.room([kind]));
    for (const kind of this.zoneKinds) {
      const desc = this.tables.get(kind);
      const zones = Array.isArray(raw[kind]) ? raw[kind] : [];
      zones.forEach((zone, k) => {
        const box = el("fieldset", { class: "zone-entry", id: `${kind}-${k}` }, el("legend", { text: `${ZONES[kind].title} ${k + 1}` }), this.fields.table(desc, [kind, k], raw),
          el("button", { type: "button", class: "plain", text: ZONES[kind].out, onclick: () => this.change([{ do: "drop", loc: [kind, k] }], "") }));
        made.push(box);
      });
    }
    const add = (kind) => el("button", { type: "button", text: ZONES[kind].add, onclick: () => {
      this.next = [kind, (Array.isArray(this.raw()[kind]) ? this.raw()[kind] : []).length, this.stave ? (kind === "check" ? "from" : "at") : "limb"];
      this.change([{ do: "add", loc: [kind], values: kind === "check" ? {} : { name: this.freeName() } }], "");
    } });
    made.push(el("p", { class: "hint", text: "Place them on the drawing, or enter them here." }), el("div", { class: "row" }, ...this.zoneKinds.map(add)));
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
    const shownWoods = there.length || this.stave ? there : ["whole"];
    const made = [this.fields.room(["wood"])];
    if (!shownWoods.length) made.push(el("p", { class: "hint", text: "That of the wanted bow; say another one here." }));
    const titles = { whole: "The whole stave", heartwood: "Heartwood", sapwood: "Sapwood", backing: "Strip glued on the back" };
    for (const name of shownWoods) {
      made.push(el("h3", { text: titles[name] }), this.table(["wood", name], raw));
      if (name !== "whole" && name !== "heartwood")
        made.push(el("button", { type: "button", class: "plain", text: `Say nothing of the ${name}`, onclick: () => this.change([{ do: "drop", loc: ["wood", name] }], "") }));
    }
    const bar = el("div", { class: "row" });
    const add = (text, edits) => bar.append(el("button", { type: "button", class: "plain", text, onclick: () => this.change(edits, "") }));
    const species = shown(valueAt(raw, ["wood", "whole", "species"]));
    if (!shownWoods.length) add("The stave is of another wood", [{ do: "add", loc: ["wood", "whole"], values: {} }]);
    if (there.includes("whole")) add("Heartwood and sapwood differ", [{ do: "rename", loc: ["wood", "whole"], to: "heartwood" }, { do: "add", loc: ["wood", "sapwood"], values: { species } }]);
    else if (there.includes("heartwood") && !there.includes("sapwood")) add("Its sapwood differs", [{ do: "add", loc: ["wood", "sapwood"], values: { species: shown(valueAt(raw, ["wood", "heartwood", "species"])) } }]);
    if (!there.includes("backing") && !this.stave) add("A strip is glued on the back", [{ do: "add", loc: ["wood", "backing"], values: {} }]);
    made.push(bar);
    return made;
  }
}
