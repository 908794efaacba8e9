// Fields built from the schema's own description of the case: one for every key of a table.

import { el, words, newId } from "./make.js";
import { signPicture, signWords } from "./signs.js";

const SHOWN = new Set([
  "wood.species", "wood.moisture", "string.brace_height", "string.material", "string.strands",
  "grip.hold", "grip.hand_at", "grip.arrow_at", "knot.far_diameter", "decay.stage", "decay.rot",
  "bow.case", "bow.draw_weight", "spare.edge", "spare.end", "spare.straightness", "stave.bark", "check.across",
  "fix.upper_end", "fix.cut_butt", "fix.cut_top", "grain.ring_radius", "grain.run_out", "grain.sideways", "grain.spiral", "arrow.mass", "tips.mass",
  "analysis.elements_per_limb", "analysis.fineness",
]);
const OTHER = "\u0000other";
const OWN = "\u0000own";

export const keyOf = (loc) => JSON.stringify(loc);

export function valueAt(raw, loc) {
  let at = raw;
  for (const part of loc) {
    if (at === null || at === undefined || typeof at !== "object") return undefined;
    at = at[part];
  }
  return at;
}

export const shown = (value) =>
  value === undefined || value === null ? "" : typeof value === "object" ? "" : String(value);

// Every field on the page, by its place: how to show a value in it, and where its faults go.
export class Fields {
  constructor(change) {
    this.change = change; // (edits, mark) => void
    this.places = new Map();
    this.menus = {};
    this.faults = [];
  }

  forget(root) {
    for (const [key, place] of this.places) if (root.contains(place.box)) this.places.delete(key);
  }

  keep(loc, place) {
    this.places.set(keyOf(loc), place);
  }

  set(loc, text) {
    this.change([{ do: "set", loc, text }], keyOf(loc));
  }

  // A field with its label, hint, sign and room for what is wrong with it.
  field(loc, about, raw) {
    const id = newId();
    const label = el("label", { for: id, text: words(about.key) });
    const box = el("div", { class: `field ${about.kind.replace(" ", "-")}` }, label);
    const fault = el("p", { class: "fault", id: `${id}-fault`, hidden: true });
    const hint = el("p", { class: "hint", id: `${id}-hint`, text: about.about });
    const place = { box, fault, loc, inputs: [] };
    const value = valueAt(raw, loc);
    if (about.kind === "choice" || about.kind === "yes" || about.menu) this.choice(place, about, id, value, raw);
    else if (about.kind === "pair") this.pair(place, about, id, value);
    else this.typed(place, about, id, value);
    if (about.sign) {
      place.sign = el("p", { class: "sign" });
      box.append(place.sign);
      place.about = about.sign;
      showSign(place, shown(value));
    }
    box.append(fault, hint);
    for (const input of place.inputs) input.setAttribute("aria-describedby", `${id}-fault ${id}-hint`);
    this.keep(loc, place);
    return box;
  }

  typed(place, about, id, value) {
    const prose = about.kind === "prose";
    const input = el(prose ? "textarea" : "input", {
      id, rows: prose ? 2 : null, type: prose ? null : "text", spellcheck: "false",
      placeholder: place.quiet ? null : about.example && !prose ? `such as ${about.example}` : null,
      oninput: () => {
        if (place.sign) showSign(place, input.value);
        this.set(place.loc, input.value);
      },
    });
    input.value = shown(value);
    place.inputs.push(input);
    place.show = (next) => put(input, shown(next), () => place.sign && showSign(place, shown(next)));
    place.box.append(input);
  }

  // Two values in one key: at the butt, and at the top.
  pair(place, about, id, value) {
    const send = () => {
      const texts = place.inputs.map((input) => input.value);
      this.change(texts.some((text) => text.trim()) ? [{ do: "put", loc: place.loc, value: texts }] : [{ do: "drop", loc: place.loc }], keyOf(place.loc));
    };
    ["at the butt", "at the top"].forEach((where, k) => {
      place.inputs.push(el("input", { id: k ? null : id, type: "text", spellcheck: "false", placeholder: where, "aria-label": `${words(about.key)} ${where}`, oninput: send }));
    });
    place.show = (next) => place.inputs.forEach((input, k) => put(input, Array.isArray(next) ? shown(next[k]) : ""));
    place.box.append(...place.inputs);
    place.show(value);
  }

  choice(place, about, id, value, raw) {
    const menu = about.menu ? this.menus[about.menu] : null;
    const select = el("select", { id });
    select.append(el("option", { value: "", text: about.needed ? "choose one" : "not said" }));
    if (menu) {
      const groups = [...new Set(menu.map((one) => one.group))];
      for (const group of groups) {
        const inside = group ? el("optgroup", { label: group }) : select;
        for (const one of menu.filter((item) => item.group === group))
          inside.append(el("option", { value: one.name, text: one.name }));
        if (group) select.append(inside);
      }
    }
    for (const word of about.words || []) select.append(el("option", { value: word, text: word }));
    if (about.parts && about.parts.length)
      select.append(el("option", { value: OWN, text: about.parts.length === 1 ? about.parts[0].about : "figures of my own" }));
    if (menu && about.kind === "text") select.append(el("option", { value: OTHER, text: "another, by its name" }));
    const parts = el("div", { class: "parts" });
    const figures = el("div", { class: "figures" });
    const other = el("input", {
      type: "text", hidden: true, spellcheck: "false", "aria-label": `${words(about.key)}: its name`,
      oninput: () => this.set(place.loc, other.value),
    });
    place.inputs.push(select, other);
    select.addEventListener("change", () => {
      other.hidden = select.value !== OTHER;
      if (select.value === OTHER) {
        other.value = "";
        other.focus();
      } else if (select.value === OWN) {
        const blank = Object.fromEntries(about.parts.filter((part) => part.needed).map((part) => [part.key, ""]));
        this.change([{ do: "put", loc: place.loc, value: blank }], "");
      } else if (select.value === "") this.change([{ do: "drop", loc: place.loc }], "");
      else this.change([{ do: "put", loc: place.loc, value: select.value }], "");
    });
    let drawn = null;
    place.show = (next) => {
      const table = next !== null && typeof next === "object";
      const text = shown(next);
      const known = [...select.options].find((option) => option.value === text)
        || (menu ? findIn(menu, text, select) : null);
      if (document.activeElement !== other) {
        select.value = table ? OWN : known ? known.value : text ? (menu && about.kind === "text" ? OTHER : "") : "";
        if (!table && !known && text && !menu) {
          select.append(el("option", { value: text, text }));
          select.value = text;
        }
        other.hidden = select.value !== OTHER;
        other.value = text;
      }
      const sort = table ? Object.keys(next).join() : text;
      if (sort !== drawn) {
        drawn = sort;
        this.forget(parts);
        parts.replaceChildren();
        if (table)
          for (const part of about.parts || []) parts.append(this.field([...place.loc, part.key], part, rawWith(place.loc, next)));
        figures.replaceChildren(...(menu ? figuresOf(menu, text) : []));
      }
    };
    place.box.append(select, other, parts, figures);
    place.show(value);
  }

  // A table of a case as a group of fields: what is needed or said first, the rest behind "more".
  table(desc, path, raw, heads = []) {
    const head = path.filter((part) => typeof part === "string");
    const name = head[0];
    const first = el("div", { class: "fields" });
    const rest = el("div", { class: "fields" });
    const value = valueAt(raw, path) || {};
    for (const about of desc.fields) {
      const loc = [...path, about.key];
      const ready = withMenu(about, name);
      if (ready.kind === "table") {
        rest.append(this.group(loc, ready, raw));
        continue;
      }
      const needed = about.needed || about.key in value || SHOWN.has(`${name}.${about.key}`);
      (needed ? first : rest).append(this.field(loc, ready, raw));
    }
    const unknown = Object.keys(value).filter((key) => key !== "unit" && !heads.includes(key) && !desc.fields.some((about) => about.key === key));
    for (const key of unknown) first.append(this.stray([...path, key], value[key]));
    const box = el("div", { class: "table" });
    const place = { box, fault: el("p", { class: "fault", hidden: true }), loc: path, inputs: [] };
    this.keep(path, place);
    box.append(place.fault);
    if (desc.unit && "unit" in value) first.prepend(this.unit(path, value.unit));
    box.append(first);
    if (rest.childElementCount)
      box.append(el("details", { class: "more" }, el("summary", { text: "more that may be said" }), rest));
    return box;
  }

  unit(path, unit) {
    return this.field([...path, "unit"], { key: "unit", kind: "choice", about: "of bare numbers here", needed: true, words: ["mm", "cm", "m", "in", "ft"] }, rawWith([...path, "unit"], unit));
  }

  group(loc, about, raw) {
    const inside = el("div", { class: "fields" });
    for (const part of about.parts) inside.append(this.field([...loc, part.key], part, raw));
    const box = el("details", { class: "more" }, el("summary", { text: `${words(about.key)}: ${about.about}` }), inside);
    const place = { box, fault: el("p", { class: "fault", hidden: true }), loc, inputs: [] };
    box.prepend(place.fault);
    this.keep(loc, place);
    return box;
  }

  // Room for what is wrong with a whole table, where its fields say nothing of it.
  room(loc) {
    const box = el("div");
    const fault = el("p", { class: "fault", hidden: true });
    box.append(fault);
    this.keep(loc, { box, fault, loc, inputs: [] });
    return box;
  }

  // A key the schema does not know: shown as it is, with the way to be rid of it.
  stray(loc, value) {
    const box = el("div", { class: "field stray" });
    const fault = el("p", { class: "fault", hidden: true });
    const said = typeof value === "object" ? "a table" : String(value);
    box.append(
      el("span", { text: `${loc[loc.length - 1]} = ${said}` }),
      el("button", { type: "button", text: "Take it out", onclick: () => this.change([{ do: "drop", loc }], "") }),
      fault,
    );
    this.keep(loc, { box, fault, loc, inputs: [], stray: true });
    return box;
  }

  // New values into fields that are not being typed in.
  update(raw) {
    for (const place of this.places.values()) if (place.show) place.show(valueAt(raw, place.loc));
  }

  // Put every fault beside its field; return those that have no field here.
  tell(faults) {
    this.faults = [];
    for (const place of this.places.values()) clear(place);
    const left = [];
    for (const fault of faults) {
      let loc = fault.loc;
      while (loc.length && !this.places.has(keyOf(loc))) loc = loc.slice(0, -1);
      const place = this.places.get(keyOf(loc));
      if (!loc.length || !place) left.push(fault);
      else {
        show(place, fault);
        this.faults.push({ fault, place });
      }
    }
    return left;
  }
}

function rawWith(loc, value) {
  return [...loc].reverse().reduce((inner, key) => ({ [key]: inner }), value);
}

function withMenu(about, table) {
  if (table === "wood" && about.key === "species") return { ...about, menu: "woods" };
  if (table === "string" && about.key === "material") return { ...about, menu: "strings" };
  if (table === "bow" && about.key === "case") return { ...about, menu: "bows" };
  if (table === "knot" && about.key === "filler") return { ...about, kind: "choice", menu: "fillers" };
  return about;
}

function findIn(menu, text, select) {
  const word = text.toLowerCase().trim();
  const one = word && menu.find((item) => item.name.toLowerCase() === word || item.also.some((name) => name.toLowerCase() === word));
  return one ? [...select.options].find((option) => option.value === one.name) : null;
}

function figuresOf(menu, text) {
  const word = text.toLowerCase().trim();
  const one = menu.find((item) => item.name.toLowerCase() === word || item.also.some((name) => name.toLowerCase() === word));
  if (!one || !one.figures.length) return [];
  const rows = one.figures.map(([what, value, source]) =>
    el("li", {}, `${what}: `, el("b", { text: value }), source ? el("small", { text: ` ${source}` }) : null));
  const notes = one.notes.map((note) => el("li", { text: note }));
  return [el("details", {}, el("summary", { text: `figures of ${one.name} and their sources` }), el("ul", {}, ...rows, ...notes))];
}

export function put(input, text, then) {
  if (document.activeElement === input || input.value === text) return;
  input.value = text;
  if (then) then();
}

function showSign(place, text) {
  place.sign.replaceChildren(signPicture(place.about.picture, text), el("span", { text: signWords(place.about, text) }));
}

function clear(place) {
  place.fault.hidden = true;
  place.fault.textContent = "";
  place.fault.className = "fault";
  place.box.classList.remove("wrong", "lacking");
  for (const input of place.inputs) input.removeAttribute("aria-invalid");
}

function show(place, fault) {
  const empty = fault.missing || place.inputs.some((input) => !input.hidden && input.value.trim() === "" );
  const sign = empty ? "\u25cb still needed: " : "\u2715 ";
  const said = fault.words.replace(/^is missing: /, "");
  const line = `${sign}${said}`;
  place.fault.textContent = place.fault.hidden ? line : `${place.fault.textContent}\n${line}`;
  place.fault.hidden = false;
  place.fault.classList.toggle("mild", empty);
  place.box.classList.add(empty ? "lacking" : "wrong");
  for (const input of place.inputs) input.setAttribute("aria-invalid", "true");
  for (let at = place.box.closest("details"); at; at = at.parentElement.closest("details")) at.open = true;
}
