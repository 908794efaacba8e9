// The bow upright, as it stands before the archer: its back, its belly, its side, and one section.
//
// The back is seen from the target, so the archer's right lies to the left there; on the belly it
// lies to the right; the side is seen from the archer's right, the target to the right.

import { el, svg } from "./make.js";
import { written } from "./measures.js";

export const TOP = 58, FOOT = 34, LEFT = 46;
const STEPS = [0.5, 0.7, 0.85, 1.0];

export class Drawing {
  constructor(box, section, act) {
    this.box = box;
    this.sectionBox = section;
    this.act = act; // { look(mm), place(zone), move(zone, values) , go(loc) }
    this.tool = null;
    this.verdicts = new Map();
    this.strip = null;
    this.strokes = [];
    this.stale = false;
    this.row = null;
  }

  draw(data, unit) {
    this.data = data;
    this.unit = unit;
    this.render();
    this.renderSection();
  }

  render() {
    const bow = this.data && this.data.bow;
    if (!bow) {
      this.box.replaceChildren(el("p", { class: "empty", text: this.nothing }));
      return;
    }
    this.box.classList.toggle("with-photo", Boolean(this.photo && this.photo.there));
    const width = Math.max(300, this.box.clientWidth || 420);
    const height = Math.max(430, Math.min(1000, this.room()));
    const lay = this.lay(bow, width, height);
    this.lay_ = lay;
    const root = svg("svg", { viewBox: `0 0 ${width} ${height}`, width, height, role: "group", "aria-label": this.about });
    root.append(svg("defs", {}, hatch("rot", 5, "rot-line"), hatch("past", 4, "past-line"),
      svg("clipPath", { id: "back-only" }, svg("rect", { x: lay.middle.back - lay.panel / 2, y: TOP - 4, width: lay.panel, height: height - TOP - FOOT + 8 }))));
    this.compose(root, lay, bow);
    const focus = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.zone : null;
    this.box.replaceChildren(root);
    if (focus) {
      const again = root.querySelector(`[data-zone="${CSS.escape(focus)}"]`);
      if (again) again.focus();
    }
  }

  get about() {
    return "the bow: back, belly and side; knots can be moved with the arrow keys";
  }

  get sees() {
    return "looking up the bow";
  }

  get under() {
    return "belly";
  }

  get nothing() {
    return "The bow appears here as soon as two stations have a width and a thickness.";
  }

  compose(root, lay, bow) {
    this.scale(root, lay, bow);
    if (this.photo) root.append(...this.photo.nodes(lay, this.data));
    for (const view of ["back", "belly"]) this.face(root, lay, bow, view);
    this.side(root, lay, bow);
    this.used(root, lay);
    this.taken(root, lay, bow);
    this.cursor(root, lay);
    this.zones(root, lay, bow);
  }

  // Where the middle line of the back lies, to the right of the straight line; for a photo's points.
  asideAt(x) {
    const bow = this.data.bow;
    return bow.aside[nearest(bow.x, x)];
  }

  // How much of the limb still covers the photo of its back.
  get cover() {
    return this.photo && this.photo.there ? 1 - 0.9 * this.photo.share : null;
  }

  room() {
    return window.innerWidth < 1100 ? Math.min(window.innerHeight * 0.8, 760) : window.innerHeight - 330;
  }

  lay(bow, width, height) {
    const x0 = bow.x[0], x1 = bow.x[bow.x.length - 1];
    const span = Math.max(x1 - x0, 1);
    const along = (height - TOP - FOOT) / span;
    const panel = (width - LEFT - 26) / 3;
    const reach = Math.max(...bow.x.map((_, k) => Math.abs(bow.aside[k]) + bow.half_width[k]));
    const across = Math.min(0.42 * panel / reach, 6 * along);
    const ahead = Math.max(...bow.back), behind = Math.min(...bow.back.map((z, k) => z - bow.thickness[k]));
    const deep = Math.min(0.8 * panel / Math.max(ahead - behind, 1), across);
    return {
      width, height, along, across, deep, x0, x1, panel,
      y: (x) => TOP + (x1 - x) * along,
      x: (y) => x1 - (y - TOP) / along,
      middle: { back: LEFT + panel / 2, belly: LEFT + 1.5 * panel, side: LEFT + 2.5 * panel },
      turn: { back: -1, belly: 1 },
      z: (z) => LEFT + 2.5 * panel + deep * (z - (ahead + behind) / 2),
    };
  }

  scale(root, lay, bow) {
    const step = this.unit === "in" ? 25.4 * 6 : 100;
    const name = (x) => (this.unit === "in" ? Math.abs(x) / 25.4 : Math.abs(x));
    for (let x = Math.ceil(lay.x0 / step) * step; x <= lay.x1; x += step) {
      root.append(
        svg("line", { class: "scale", x1: LEFT - 6, x2: lay.width - 8, y1: lay.y(x), y2: lay.y(x) }),
        svg("text", { class: "number", x: LEFT - 9, y: lay.y(x) + 4, "text-anchor": "end", text: Math.round(name(x)) }),
      );
    }
    const text = (x, y, said, cls = "word", anchor = "middle") => root.append(svg("text", { class: cls, x, y, "text-anchor": anchor, text: said }));
    text(lay.middle.back, 18, "back", "view");
    text(lay.middle.belly, 18, "belly", "view");
    text(lay.middle.side, 18, "side", "view");
    text(lay.middle.back, 36, "\u2190 archer's right");
    text(lay.middle.belly, 36, "archer's right \u2192");
    text(lay.middle.side, 36, "to the target \u2192");
    text(4, TOP - 8, this.unit === "in" ? "in" : "mm", "number", "start");
    const times = lay.across / lay.along;
    text(LEFT + lay.panel, lay.height - 8, `widths drawn ${times.toFixed(0)} times as large`);
    if (bow.grip > 0)
      root.append(svg("rect", { class: "grip", x: LEFT, width: lay.width - LEFT - 26, y: lay.y(bow.grip), height: Math.max(1, 2 * bow.grip * lay.along) }));
  }

  face(root, lay, bow, view) {
    const middle = lay.middle[view], turn = lay.turn[view];
    const at = (k, s) => `${(middle + turn * lay.across * (bow.aside[k] + s * bow.half_width[k])).toFixed(1)} ${lay.y(bow.x[k]).toFixed(1)}`;
    const right = bow.x.map((_, k) => at(k, 1)), left = bow.x.map((_, k) => at(k, -1)).reverse();
    const limb = svg("path", { class: `limb ${view}`, d: `M${right.join("L")}L${left.join("L")}Z`, "fill-opacity": view === "back" ? this.cover : null });
    const panel = svg("rect", {
      class: `catch ${this.tool ? "placing" : ""}`, "data-view": view,
      x: middle - lay.panel / 2, width: lay.panel, y: TOP, height: lay.height - TOP - FOOT,
    });
    panel.addEventListener("pointerdown", (event) => this.press(event, view));
    root.append(limb);
    if (bow.aside.some((y) => Math.abs(y) > 0.2))
      root.append(svg("path", { class: "middle", d: `M${bow.x.map((_, k) => at(k, 0)).join("L")}` }));
    for (const station of bow.stations) {
      const k = nearest(bow.x, station.x);
      root.append(svg("path", { class: "station", d: `M${at(k, 1)}L${at(k, -1)}` }));
    }
    root.append(panel);
  }

  side(root, lay, bow) {
    const at = (k, z) => `${lay.z(z).toFixed(1)} ${lay.y(bow.x[k]).toFixed(1)}`;
    const band = (top, foot) => `M${bow.x.map((_, k) => at(k, top(k))).join("L")}L${bow.x.map((_, k) => at(k, foot(k))).reverse().join("L")}Z`;
    const back = (k) => bow.back[k];
    const belly = (k) => bow.back[k] - bow.thickness[k];
    root.append(svg("path", { class: "limb belly", d: band(back, belly) }));
    if (bow.sapwood.some((s) => s > 0))
      root.append(svg("path", { class: "limb back", d: band((k) => bow.back[k] - bow.backing[k], (k) => Math.max(belly(k), bow.back[k] - bow.backing[k] - bow.sapwood[k])) }));
    if (bow.backing.some((s) => s > 0))
      root.append(svg("path", { class: "limb strip", d: band(back, (k) => bow.back[k] - bow.backing[k]) }));
  }

  // How hard clear wood is worked, beside the side view: dark is hard, hatched past its strength.
  used(root, lay) {
    if (!this.strip) return;
    const { x, used } = this.strip;
    const left = lay.width - 22;
    const group = svg("g", { class: this.stale ? "stale" : "", "aria-hidden": "true" });
    for (let k = 0; k < x.length; k++) {
      const low = k ? (x[k - 1] + x[k]) / 2 : x[k], high = k < x.length - 1 ? (x[k] + x[k + 1]) / 2 : x[k];
      const step = STEPS.filter((limit) => used[k] >= limit).length;
      const y = lay.y(Math.max(low, high)), tall = Math.abs(high - low) * lay.along + 0.5;
      group.append(svg("rect", { class: `used u${step}`, x: left, width: 14, y, height: tall }));
      if (step === STEPS.length) group.append(svg("rect", { x: left, width: 14, y, height: tall, fill: "url(#past)" }));
    }
    const worst = used.indexOf(Math.max(...used));
    group.append(svg("text", { class: "worst", x: left - 4, y: lay.y(x[worst]) + 4, "text-anchor": "end", text: `${Math.round(100 * used[worst])}%` }));
    group.append(svg("text", { class: "word", x: lay.width - 4, y: TOP - 6, "text-anchor": "end", text: "strength used" }));
    root.append(group);
  }

  // Where wood is to come off, numbered as the list has it: on the belly, or on both edges.
  taken(root, lay, bow) {
    this.strokes.forEach((stroke, k) => {
      const low = Math.min(stroke.from, stroke.to), high = Math.max(stroke.from, stroke.to);
      const y = lay.y(high), height = Math.max(3, (high - low) * lay.along);
      const at = nearest(bow.x, (low + high) / 2);
      const half = lay.across * bow.half_width[at], middle = lay.middle.belly + lay.across * bow.aside[at];
      const bars = stroke.side === "belly" ? [middle - 3] : [middle - half - 4, middle + half - 2];
      for (const x of bars) root.append(svg("rect", { class: "stroke", x, y, width: 6, height }));
      root.append(svg("text", { class: "stroke-number", x: bars[bars.length - 1] + 10, y: y + height / 2 + 4, text: k + 1 }));
    });
  }

  cursor(root, lay) {
    const section = this.data.section;
    if (!section) return;
    const y = lay.y(section.x);
    const line = svg("g", {
      class: "cursor", tabindex: 0, role: "slider", "data-zone": "cursor", "aria-orientation": "vertical",
      "aria-label": "where the section is cut", "aria-valuemin": Math.round(lay.x0), "aria-valuemax": Math.round(lay.x1),
      "aria-valuenow": Math.round(section.x), "aria-valuetext": section.words,
    },
      svg("line", { x1: LEFT - 4, x2: lay.width - 26, y1: y, y2: y }),
      svg("path", { d: `M${LEFT - 14} ${y - 7}L${LEFT - 3} ${y}L${LEFT - 14} ${y + 7}Z` }),
      svg("rect", { class: "grab", x: LEFT - 22, y: y - 14, width: 26, height: 28 }),
    );
    line.addEventListener("keydown", (event) => {
      const step = (event.shiftKey ? 50 : 10) * ({ ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1 }[event.key] || 0);
      if (!step) return;
      event.preventDefault();
      this.act.look(section.x + step);
    });
    line.addEventListener("pointerdown", (event) => this.drag(event, (point) => this.act.look(lay.x(point.y))));
    root.append(line);
  }

  zones(root, lay, bow) {
    for (const zone of this.data.zones) this.zone(root, lay, bow, zone);
  }

  zone(root, lay, bow, zone) {
    const name = `${zone.kind === "knot" ? "knot" : "rot"} ${zone.name || zone.row + 1}`;
    const key = `${zone.kind} ${zone.row}`;
    const flat = zone.face === "back" || zone.face === "belly";
    const long = zone.kind === "knot" ? zone.diameter : zone.length;
    const wide = zone.kind === "knot" ? zone.diameter : zone.width;
    const middle = this.middleOf(zone, lay, bow, flat);
    const scale = flat ? lay.across : lay.deep;
    const verdict = this.verdicts.get(`${zone.kind} ${zone.name}`);
    const y = lay.y(zone.x);
    const rx = Math.max(3, (wide || 0) * scale / 2), ry = Math.max(3, (long || 0) * lay.along / 2);
    const seen = flat ? zone.face : `${zone.face} side`;
    const group = svg("g", {
      class: `zone ${zone.kind} ${zone.state} ${this.stale ? "stale" : ""}`, tabindex: 0, role: "button", "data-zone": key,
      "aria-label": `${name}, ${seen}, ${this.place(zone.x)}${verdict ? `, ${verdict.verdict}` : ""}; arrow keys move it, plus and minus size it`,
    });
    if (wide && long) group.append(svg("ellipse", { cx: middle, cy: y, rx, ry }));
    else group.append(svg("path", { class: "unsized", d: `M${middle - 7} ${y}L${middle + 7} ${y}M${middle} ${y - 7}L${middle} ${y + 7}` }));
    if (zone.kind === "decay" && wide && long) group.append(svg("ellipse", { cx: middle, cy: y, rx, ry, class: "rot-fill", fill: "url(#rot)" }));
    group.append(svg("circle", { class: "grab", cx: middle, cy: y, r: Math.max(14, rx, ry) }));
    const badge = verdict ? ` ${verdict.sign} ${verdict.verdict}` : "";
    group.append(svg("text", { class: `name ${verdict ? verdict.verdict.replaceAll(" ", "-") : ""}`, x: middle, y: y - Math.max(ry, 8) - 5, "text-anchor": "middle", text: `${zone.name || "?"}${badge}` }));
    group.addEventListener("keydown", (event) => this.key(event, zone, flat));
    group.addEventListener("dblclick", () => this.act.go([zone.kind, zone.row]));
    group.addEventListener("pointerdown", (event) => this.grab(event, zone, lay, flat));
    root.append(group);
    if (flat && wide && long) {
      const handle = svg("rect", { class: "handle", x: middle + rx - 5, y: y - 5, width: 10, height: 10, "aria-hidden": "true" });
      handle.addEventListener("pointerdown", (event) => this.drag(event, (point) => {
        const size = 2 * Math.abs(point.x - middle) / scale;
        this.act.move(zone, zone.kind === "knot" ? { diameter: this.written(Math.max(1, size)) } : { width: this.written(Math.max(1, size)) });
      }));
      root.append(handle);
    }
    const far = zone.far;
    if (far) {
      const cx = lay.middle[far.face] + lay.turn[far.face] * lay.across * (far.aside + far.across);
      root.append(svg("ellipse", { class: "far", cx, cy: lay.y(far.x), rx: Math.max(2, far.diameter * lay.across / 2), ry: Math.max(2, far.diameter * lay.along / 2) },
        svg("title", { text: `${name} comes out here` })));
    }
  }

  place(x) {
    return `${x < 0 ? "lower" : "upper"} limb at ${Math.round(Math.abs(x))} mm`;
  }

  middleOf(zone, lay, bow, flat) {
    if (flat) return lay.middle[zone.face] + lay.turn[zone.face] * lay.across * (zone.aside + zone.across);
    const k = nearest(bow.x, zone.x);
    return lay.z(bow.back[k] - bow.thickness[k] / 2 + zone.across);
  }

  written(mm) {
    return written(mm, this.unit);
  }

  key(event, zone, flat) {
    const step = event.shiftKey ? 5 : 1;
    const turn = flat ? this.lay_.turn[zone.face] : 1;
    const moves = { ArrowUp: [step, 0], ArrowDown: [-step, 0], ArrowRight: [0, step * turn], ArrowLeft: [0, -step * turn] }[event.key];
    const size = { "+": step, "=": step, "-": -step }[event.key];
    if (event.key === "Enter") this.act.go([zone.kind, zone.row]);
    if (moves) this.shift(zone, zone.x + moves[0], zone.across + moves[1]);
    else if (size) {
      const name = zone.kind === "knot" ? "diameter" : "width";
      this.act.move(zone, { [name]: this.written(Math.max(1, (zone[name] || 0) + size)) });
    } else return;
    event.preventDefault();
  }

  shift(zone, x, across) {
    this.act.move(zone, { limb: x < 0 ? "lower" : "upper", at: this.written(Math.abs(x)), across: this.written(across) });
  }

  grab(event, zone, lay, flat) {
    if (!flat) return;
    const start = this.point(event);
    this.drag(event, (point) => {
      if (Math.hypot(point.x - start.x, point.y - start.y) < 3) return;
      const x = Math.min(lay.x1, Math.max(lay.x0, zone.x - (point.y - start.y) / lay.along));
      this.shift(zone, x, zone.across + lay.turn[zone.face] * (point.x - start.x) / lay.across);
    });
  }

  point(event) {
    const root = this.box.querySelector("svg");
    const box = root.getBoundingClientRect();
    return { x: (event.clientX - box.left) * this.lay_.width / box.width, y: (event.clientY - box.top) * this.lay_.height / box.height };
  }

  drag(event, move, done = () => {}) {
    event.preventDefault();
    event.stopPropagation();
    const follow = (next) => { if (next.pointerId === event.pointerId) move(this.point(next)); };
    const end = (next) => {
      if (next.pointerId !== event.pointerId) return;
      window.removeEventListener("pointermove", follow);
      window.removeEventListener("pointerup", end);
      window.removeEventListener("pointercancel", end);
      done(this.point(next));
    };
    window.addEventListener("pointermove", follow);
    window.addEventListener("pointerup", end);
    window.addEventListener("pointercancel", end);
  }

  // A press on a face: moves the section there, or sets a knot or patch down, sized by dragging.
  press(event, view) {
    const lay = this.lay_;
    const start = this.point(event);
    if (!this.tool) {
      this.act.look(lay.x(start.y));
      this.drag(event, (point) => this.act.look(lay.x(point.y)));
      return;
    }
    const kind = this.tool;
    const x = Math.min(lay.x1, Math.max(lay.x0, lay.x(start.y)));
    const across = this.acrossAt(view, x, start.x);
    this.drag(event, () => {}, (point) => {
      const wide = 2 * Math.abs(point.x - start.x) / lay.across, long = 2 * Math.abs(point.y - start.y) / lay.along;
      const far = Math.hypot(point.x - start.x, point.y - start.y) > 4;
      const sizes = !far ? {} : kind === "knot" ? { diameter: this.written(Math.max(1, wide)) } : { length: this.written(Math.max(1, long)), width: this.written(Math.max(1, wide)) };
      this.act.place(kind, this.placed(view, x, across, sizes, point));
    });
  }

  acrossAt(view, x, px) {
    const lay = this.lay_, bow = this.data.bow;
    return lay.turn[view] * (px - lay.middle[view]) / lay.across - bow.aside[nearest(bow.x, x)];
  }

  placed(view, x, across, sizes) {
    return { limb: x < 0 ? "lower" : "upper", at: this.written(Math.abs(x)), face: view, across: this.written(across), ...sizes };
  }

  renderSection() {
    const cut = this.data && this.data.section;
    if (!cut) {
      this.sectionBox.replaceChildren();
      return;
    }
    const ys = cut.outline.map((p) => p[0]), zs = cut.outline.map((p) => p[1]);
    const wide = Math.max(...ys) - Math.min(...ys), tall = Math.max(...zs) - Math.min(...zs);
    const level = (Math.max(...zs) + Math.min(...zs)) / 2;
    const width = 300, height = 180;
    const scale = Math.min(180 / wide, 100 / tall);
    const at = ([y, z]) => `${(width / 2 + scale * y).toFixed(1)} ${(height / 2 - scale * (z - level)).toFixed(1)}`;
    const line = (points) => `M${points.map(at).join("L")}`;
    const closed = (points) => `${line(points)}Z`;
    const half = cut.outline.length / 2;
    const layer = (top, foot) => `M${top.map(at).join("L")}L${[...foot].reverse().map(at).join("L")}Z`;
    const back = cut.outline.slice(0, half);
    const parts = [svg("path", { class: "limb belly", d: closed(cut.outline) })];
    const under = cut.backing || back;
    if (cut.sapwood) parts.push(svg("path", { class: "limb back", d: layer(under, cut.sapwood) }));
    if (cut.backing) parts.push(svg("path", { class: "limb strip", d: layer(back, cut.backing) }));
    const inside = svg("g", { "clip-path": "url(#cut-edge)" }, ...cut.zones.map((zone) => svg("path", { class: `zone-cut ${zone.kind}`, d: closed(zone.line) }, svg("title", { text: zone.name }))));
    const edge = svg("path", { class: "edge", d: closed(cut.outline) });
    this.sectionBox.replaceChildren(svg("svg", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": `section, ${this.sees}: ${cut.words}` },
      svg("defs", {}, svg("clipPath", { id: "cut-edge" }, svg("path", { d: closed(cut.outline) }))),
      svg("g", { transform: `rotate(${cut.twist} ${width / 2} ${height / 2})` }, ...parts, inside, edge),
      svg("text", { class: "word", x: width / 2, y: 16, "text-anchor": "middle", text: cut.twist ? "back (twisted)" : "back" }),
      svg("text", { class: "word", x: width / 2, y: height - 6, "text-anchor": "middle", text: this.under }),
      svg("text", { class: "word", x: width - 4, y: height / 2 + 4, "text-anchor": "end", text: "right \u2192" }),
      svg("text", { class: "word", x: 4, y: height / 2 + 4, text: "\u2190 left" }),
    ));
  }
}

// Index of the place nearest to x.
export function nearest(places, x) {
  return places.reduce((best, at, j) => (Math.abs(at - x) < Math.abs(places[best] - x) ? j : best), 0);
}

export function hatch(id, step, cls) {
  return svg("pattern", { id, width: step, height: step, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, svg("line", { class: cls, x1: 0, x2: 0, y1: 0, y2: step }));
}
