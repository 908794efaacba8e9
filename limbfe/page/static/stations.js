// The stations of a limb as a grid: arrows and Tab move, a block from a spreadsheet may be pasted.

import { el, words } from "./make.js";
import { shown, valueAt, put } from "./fields.js";
import { signPicture, signWords } from "./signs.js";
import { lengthOf, onRuler, inMm } from "./measures.js";

const ALWAYS = ["station", "width", "thickness"];
const OF_STAVE = ["station", "left", "right", "depth"];
const NAMES = { both: "both limbs", upper: "upper limb", lower: "lower limb", stave: "the stave" };
const baseOf = (side) => (side === "stave" ? ["stave"] : ["limb", side]);
const alwaysOf = (side) => (side === "stave" ? OF_STAVE : ALWAYS);

export class Stations {
  constructor(fields, say, tools) {
    this.fields = fields;
    this.say = say; // what to tell of the station that has the focus: (x in mm) => void
    this.tools = tools; // { ask } for questions
    this.cells = new Map();
  }

  // What decides how the grid is built; while it stays the same only values change.
  shape(side, raw, beside) {
    const table = valueAt(raw, baseOf(side)) || {};
    const columns = this.columns(table, side);
    return JSON.stringify([side, columns, rows(table), table.unit, beside[side] || [], strays(table, this.desc)]);
  }

  columns(table, side) {
    return this.desc.fields.filter((about) => about.kind === "column" && (alwaysOf(side).includes(about.key) || Array.isArray(table[about.key]))).map((about) => about.key);
  }

  build(side, raw, beside) {
    const table = valueAt(raw, baseOf(side)) || {};
    const abouts = new Map(this.desc.fields.map((about) => [about.key, about]));
    const columns = this.columns(table, side);
    const count = rows(table);
    const fixed = new Set(beside[side] || []);
    const ghost = fixed.size ? 0 : 2; // room to go on
    const said = el("p", { class: "cell-said", "aria-live": "polite" });
    const grid = { side, table, columns, count, said, abouts, at: null };
    const head = el("tr", {}, el("th", { scope: "col", text: "no." }), ...columns.map((name) => this.heading(grid, name)));
    const body = el("tbody");
    grid.rows = 0;
    grid.more = () => {
      const row = grid.rows++;
      body.append(el("tr", { class: row >= count ? "next" : null }, el("th", { scope: "row", text: row >= count ? "+" : row + 1 }),
        ...columns.map((name) => this.cell(grid, name, row, fixed.has(name)))));
    };
    while (grid.rows < count + ghost) grid.more();
    const box = el("div", { class: "stations", role: "group", "aria-label": `stations of ${NAMES[side]}` });
    const own = { box, fault: el("p", { class: "fault", hidden: true }), loc: baseOf(side), inputs: [] };
    this.fields.keep(baseOf(side), own);
    box.append(
      own.fault,
      this.top(grid, fixed),
      el("div", { class: "scroll" }, el("table", { class: "grid" }, el("thead", {}, head), body)),
      said,
      this.below(grid, fixed),
    );
    for (const key of strays(table, this.desc)) box.append(this.fields.stray([...baseOf(side), key], table[key]));
    return box;
  }

  heading(grid, name) {
    const about = grid.abouts.get(name);
    const unit = about.each.kind === "angle" ? "degrees" : grid.table.unit || "";
    const fault = el("p", { class: "fault", hidden: true });
    const box = el("th", { scope: "col", title: about.about }, words(name), el("small", { text: unit }),
      about.sign ? signPicture(about.sign.picture, "1") : null, fault);
    this.fields.keep([...baseOf(grid.side), name], { box, fault, loc: [...baseOf(grid.side), name], inputs: [] });
    return box;
  }

  cell(grid, name, row, fixed) {
    const loc = [...baseOf(grid.side), name, row];
    const fault = el("p", { class: "fault", hidden: true, id: `f-${grid.side}-${name}-${row}` });
    const input = el("input", {
      type: "text", inputmode: "text", spellcheck: "false", readonly: fixed,
      "aria-label": `${NAMES[grid.side]}, station ${row + 1}, ${words(name)}`,
      "aria-describedby": fault.id,
      oninput: () => this.typed(grid, name, row, input.value),
      onfocus: () => { input.select(); this.focused(grid, name, row, input); },
      onkeydown: (event) => this.key(event, grid, name, row),
      onpaste: (event) => this.paste(event, grid, name, row),
    });
    input.value = shown((grid.table[name] || [])[row]);
    this.cells.set(`${grid.side} ${name} ${row}`, input);
    const box = el("td", {}, input, fault);
    this.fields.keep(loc, { box, fault, loc, inputs: [input], cell: true, show: (next) => put(input, shown(next)) });
    return box;
  }

  typed(grid, name, row, text) {
    while (row >= grid.rows - 2) grid.more(); // before the program has answered
    const loc = [...baseOf(grid.side), name, row];
    const mark = JSON.stringify(loc);
    const last = row === grid.count - 1;
    const empty = last && grid.columns.every((other) => (other === name ? text : this.cells.get(`${grid.side} ${other} ${row}`).value).trim() === "");
    if (empty) this.fields.change([{ do: "drop_row", limb: grid.side, at: row }], "");
    else if (row >= grid.count || !Array.isArray(grid.table[name]))
      this.fields.change([{ do: "cells", limb: grid.side, at: row, columns: [name], rows: [[text]] }], mark);
    else this.fields.change([{ do: "set", loc, text }], mark);
    this.tell(grid, name, text);
  }

  focused(grid, name, row, input) {
    grid.at = { name, row };
    for (const button of grid.buttons) button.disabled = row >= grid.count && button.dataset.needs === "row";
    if (grid.drop) grid.drop.disabled = alwaysOf(grid.side).includes(name);
    this.tell(grid, name, input.value);
    const station = this.cells.get(`${grid.side} station ${row}`);
    const mm = station ? lengthOf(station.value, grid.table.unit) : null;
    if (mm !== null) this.say(grid.side === "lower" ? -mm : mm);
  }

  tell(grid, name, text) {
    const about = grid.abouts.get(name);
    const mm = about.each.kind === "length" && text.trim() ? lengthOf(text, grid.table.unit) : null;
    const both = mm === null ? "" : `: ${inMm(mm)} is ${onRuler(mm)}`;
    grid.said.replaceChildren(
      ...(about.sign ? [signPicture(about.sign.picture, text)] : []),
      el("span", {}, el("b", { text: words(name) }), both, ` \u2013 ${about.sign ? signWords(about.sign, text) : about.about}`),
    );
  }

  move(grid, name, row) {
    const input = this.cells.get(`${grid.side} ${name} ${row}`);
    if (input) input.focus();
    return Boolean(input);
  }

  key(event, grid, name, row) {
    const input = event.target;
    const whole = input.selectionStart === 0 && input.selectionEnd === input.value.length;
    const start = input.selectionEnd === 0 || whole;
    const end = input.selectionStart === input.value.length || whole;
    const column = grid.columns.indexOf(name);
    const to = {
      ArrowUp: [name, row - 1], ArrowDown: [name, row + 1],
      Enter: [name, row + (event.shiftKey ? -1 : 1)],
      ArrowLeft: start ? [grid.columns[column - 1], row] : null,
      ArrowRight: end ? [grid.columns[column + 1], row] : null,
    }[event.key];
    if (to && !event.ctrlKey && !event.metaKey && !event.altKey) {
      event.preventDefault();
      this.move(grid, ...to);
    }
  }

  paste(event, grid, name, row) {
    const text = event.clipboardData.getData("text/plain").replace(/\r\n?/g, "\n").replace(/\n+$/, "");
    if (!/[\t\n;]/.test(text)) return;
    event.preventDefault();
    let lines = text.split("\n").map((line) => line.split(/\t|;/).map((cell) => cell.trim()));
    let columns = grid.columns.slice(grid.columns.indexOf(name));
    const named = lines[0].map((cell) => cell.toLowerCase().replace(/\s*[[(].*$/, "").replaceAll(" ", "_"));
    if (named.every((word) => this.desc.fields.some((about) => about.kind === "column" && about.key === word))) {
      columns = named;
      lines = lines.slice(1);
    }
    columns = columns.slice(0, Math.max(...lines.map((line) => line.length)));
    this.fields.change([{ do: "cells", limb: grid.side, at: row, columns, rows: lines }], "");
  }

  top(grid, fixed) {
    const { side } = grid;
    const bar = el("div", { class: "row" });
    if (fixed.size) {
      bar.append(el("p", { class: "hint", text: `These stand in ${grid.table.table}, beside the case; change them there.` }));
      return bar;
    }
    const unit = el("select", {
      onchange: async () => {
        const was = grid.table.unit;
        const to = unit.value;
        const answer = was && grid.count ? await this.tools.ask(`Measures in ${to}`, `Bare numbers here are in ${was}.`,
          [["convert", `Turn them into ${to}: the bow stays as it is`], ["keep", `Keep the figures: they were measured in ${to}`]]) : "keep";
        unit.value = was || "";
        if (answer) this.fields.change([{ do: "unit", loc: baseOf(side), unit: to, convert: answer === "convert" }], "");
      },
    }, ...(grid.table.unit ? [] : [el("option", { value: "", text: "choose" })]), ...["mm", "cm", "in"].map((word) => el("option", { value: word, text: word })));
    unit.value = grid.table.unit || "";
    const label = el("label", {}, "unit ", unit);
    const place = { box: label, fault: el("p", { class: "fault", hidden: true }), loc: [...baseOf(side), "unit"], inputs: [unit] };
    label.append(place.fault);
    this.fields.keep(place.loc, place);
    bar.append(label);
    const left = this.desc.fields.filter((about) => about.kind === "column" && !grid.columns.includes(about.key));
    // a button beside it: arrow keys pass over the words of a list one by one
    const add = el("select", {
      "aria-label": `column to add to ${NAMES[side]}`, onchange: () => { act.disabled = !add.value; },
    }, el("option", { value: "", text: "another column \u2026" }), ...left.map((about) => el("option", { value: about.key, text: `${words(about.key)}: ${about.about}` })));
    const act = el("button", { type: "button", class: "plain", text: "Add it", "aria-label": `add the column to ${NAMES[side]}`, disabled: true, onclick: () => {
      this.after = [side, add.value, 0];
      this.fields.change([{ do: "column", limb: side, name: add.value }], "");
    } });
    bar.append(add, act);
    return bar;
  }

  below(grid, fixed) {
    grid.buttons = [];
    if (fixed.size) return el("div");
    const button = (text, needs, act) => {
      const made = el("button", { type: "button", text, disabled: true, "data-needs": needs, onclick: () => grid.at && act(grid.at) });
      grid.buttons.push(made);
      return made;
    };
    const { side } = grid;
    const bar = el("div", { class: "row" },
      button("Station above this one", "row", ({ name, row }) => {
        this.fields.change([{ do: "row", limb: side, at: row }], "");
        this.after = [side, name, row];
      }),
      button("Take this station out", "row", ({ name, row }) => {
        this.fields.change([{ do: "drop_row", limb: side, at: row }], "");
        this.after = [side, name, Math.max(0, row - 1)];
      }),
      grid.drop = button("Take this column out", "column", ({ name }) => this.fields.change([{ do: "drop", loc: [...baseOf(side), name] }], "")));
    return bar;
  }
}

function rows(table) {
  return Math.max(0, ...Object.entries(table).filter(([key, column]) => Array.isArray(column) && key !== "pith_ends").map(([, column]) => column.length));
}

function strays(table, desc) {
  if (desc.path[0] === "stave") return []; // its other keys have fields of their own
  return Object.keys(table).filter((key) => key !== "unit" && !desc.fields.some((about) => about.key === key));
}
