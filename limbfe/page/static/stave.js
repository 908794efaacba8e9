// The stave on the bench, back up, its top end up the page: what was measured, the line that is
// settled, and the bow that was found in it.  Left and right are those of somebody at the butt.

import { el, svg } from "./make.js";
import { Drawing, nearest, TOP, FOOT, LEFT } from "./drawing.js";
import { Answers, badge, SIGNS } from "./answers.js";

const FATES = { gone: "gone", back: "stays on the back", belly: "stays on the belly", through: "goes through", edge: "cut by an edge" };

export class StaveDrawing extends Drawing {
  constructor(...given) {
    super(...given);
    this.layout = null;
  }

  get about() {
    return "the stave: its back and its depth; knots and points of the line can be moved with the arrow keys";
  }

  get sees() {
    return "looking from the butt to the top";
  }

  get under() {
    return "split face";
  }

  get nothing() {
    return "The stave appears here as soon as two stations have left, right and depth.";
  }

  lay(bow, width, height) {
    const x0 = bow.x[0], x1 = bow.x[bow.x.length - 1];
    const along = (height - TOP - FOOT) / Math.max(x1 - x0, 1);
    const whole = width - LEFT - 12;
    const panel = 0.62 * whole;
    const reach = Math.max(...bow.left.map(Math.abs), ...bow.right.map(Math.abs));
    const across = Math.min(0.46 * panel / reach, 10 * along);
    const top = Math.max(...bow.rise), foot = Math.min(...bow.rise.map((z, k) => z - bow.depth[k]));
    const deep = Math.min(0.36 * whole / Math.max(top - foot, 1), across);
    const side = LEFT + panel + (whole - panel) / 2;
    return {
      width, height, along, across, deep, x0, x1, panel,
      y: (x) => TOP + (x1 - x) * along,
      x: (y) => x1 - (y - TOP) / along,
      middle: { back: LEFT + panel / 2, side, belly: side },
      turn: { back: 1, belly: 1 },
      // the back to the right, as from the right side of the stave
      z: (z) => side + deep * (z - (top + foot) / 2),
    };
  }

  asideAt() {
    return 0;
  }

  compose(root, lay, bow) {
    this.rule(root, lay);
    if (this.photo) root.append(...this.photo.nodes(lay, this.data));
    this.back(root, lay, bow);
    this.depth(root, lay, bow);
    this.checks(root, lay);
    this.laid(root, lay);
    this.cursor(root, lay);
    this.zones(root, lay, bow);
    this.points(root, lay);
  }

  rule(root, lay) {
    const inches = this.unit === "in";
    const step = inches ? 25.4 * 12 : 200;
    for (let x = Math.ceil(lay.x0 / step) * step; x <= lay.x1 + 1e-6; x += step)
      root.append(svg("line", { class: "scale", x1: LEFT - 6, x2: lay.width - 8, y1: lay.y(x), y2: lay.y(x) }),
        svg("text", { class: "number", x: LEFT - 9, y: lay.y(x) + 4, "text-anchor": "end", text: Math.round(inches ? x / 25.4 : x) }));
    const text = (x, y, said, cls = "word", anchor = "middle") => root.append(svg("text", { class: cls, x, y, "text-anchor": anchor, text: said }));
    text(lay.middle.back, 18, "back, top end up", "view");
    text(lay.middle.side, 18, "depth", "view");
    text(lay.middle.back, 36, "\u2190 left of the line   right \u2192");
    text(lay.middle.side, 36, "back \u2192");
    text(4, TOP - 8, inches ? "in" : "mm", "number", "start");
    text(lay.middle.back, lay.height - 8, `butt end; widths drawn ${(lay.across / lay.along).toFixed(0)} times as large`);
  }

  // A point of the back: x along, y to the right, on the page.
  at(lay, x, y) {
    return `${(lay.middle.back + lay.across * y).toFixed(1)} ${lay.y(x).toFixed(1)}`;
  }

  line(lay, xs, ys) {
    return `M${xs.map((x, k) => this.at(lay, x, ys[k])).join("L")}`;
  }

  between(lay, xs, low, high) {
    return `${this.line(lay, xs, low)}L${[...xs].map((x, k) => this.at(lay, x, high[k])).reverse().join("L")}Z`;
  }

  back(root, lay, bow) {
    root.append(svg("path", { class: "limb back", d: this.between(lay, bow.x, bow.left.map((y) => -y), bow.right), "fill-opacity": this.cover }));
    for (const station of bow.stations) {
      const k = nearest(bow.x, station.x);
      root.append(svg("path", { class: "station", d: `M${this.at(lay, station.x, -bow.left[k])}L${this.at(lay, station.x, bow.right[k])}` }));
    }
    root.append(svg("path", { class: "snapped", d: `M${this.at(lay, lay.x0, 0)}L${this.at(lay, lay.x1, 0)}` }));
    const panel = svg("rect", { class: `catch ${this.tool ? "placing" : ""}`, "data-view": "back", x: lay.middle.back - lay.panel / 2, width: lay.panel, y: TOP, height: lay.height - TOP - FOOT });
    panel.addEventListener("pointerdown", (event) => this.press(event, "back"));
    root.append(panel);
  }

  depth(root, lay, bow) {
    const band = (top, foot) => `M${bow.x.map((x, k) => `${lay.z(top(k)).toFixed(1)} ${lay.y(x).toFixed(1)}`).join("L")}L${bow.x.map((x, k) => `${lay.z(foot(k)).toFixed(1)} ${lay.y(x).toFixed(1)}`).reverse().join("L")}Z`;
    const top = (k) => bow.rise[k], foot = (k) => bow.rise[k] - bow.depth[k];
    root.append(svg("path", { class: "limb belly", d: band(top, foot) }));
    if (bow.sapwood.some((s) => s > 0)) root.append(svg("path", { class: "limb back", d: band(top, (k) => Math.max(foot(k), top(k) - bow.sapwood[k])) }));
    const best = this.layout;
    if (!best) return;
    const thick = best.edges[0].thick;
    const level = (x) => bow.rise[nearest(bow.x, x)];
    const inside = best.x.map((x) => `${lay.z(level(x)).toFixed(1)} ${lay.y(x).toFixed(1)}`).join("L");
    const under = best.x.map((x, k) => `${lay.z(level(x) - thick[k]).toFixed(1)} ${lay.y(x).toFixed(1)}`).reverse().join("L");
    root.append(svg("path", { class: "laid", d: `M${inside}L${under}Z` }));
  }

  checks(root, lay) {
    for (const check of this.data.checks)
      root.append(svg("path", { class: "check", d: `M${this.at(lay, check.from, check.across)}L${this.at(lay, check.to, check.across_to)}` }, svg("title", { text: `crack ${check.row + 1}` })));
  }

  // The bow found in the stave; its line is taken and drawn aside to settle a point of it.
  laid(root, lay) {
    const best = this.layout;
    if (!best) {
      const batten = this.data.batten;
      if (batten) root.append(svg("path", { class: "centre", d: this.line(lay, batten.x, batten.across) }));
      return;
    }
    const group = svg("g", { class: this.stale ? "stale" : "" });
    const [finished, ...stages] = best.edges;
    for (const stage of stages)
      for (const side of ["left", "right"]) group.append(svg("path", { class: "rough", d: this.line(lay, best.x, stage[side]) }, svg("title", { text: stage.name })));
    group.append(svg("path", { class: "laid", d: this.between(lay, best.x, finished.left, finished.right) }),
      svg("path", { class: "centre", d: this.line(lay, best.x, best.line) }));
    for (const nock of best.nocks) group.append(svg("path", { class: "nock", d: `M${this.at(lay, nock, -60)}L${this.at(lay, nock, 60)}`, "clip-path": "url(#back-only)" }));
    const k = nearest(best.x, best.grip);
    group.append(svg("text", { class: "worst", x: lay.middle.back + lay.across * finished.right[k] + 6, y: lay.y(best.grip) + 4, text: "grip" }),
      svg("text", { class: "worst", x: lay.middle.back, y: lay.y(best.upper_end === "top" ? best.nocks[1] : best.nocks[0]) + (best.upper_end === "top" ? -8 : 16), "text-anchor": "middle", text: "upper limb" }));
    root.append(group);
    const grab = svg("path", { class: "grab-line", d: this.line(lay, best.x, best.line) });
    grab.addEventListener("pointerdown", (event) => {
      const x = lay.x(this.point(event).y);
      this.drag(event, () => {}, (point) => this.act.place("point", { at: this.written(x), across: this.written(this.acrossAt("back", x, point.x)) }));
    });
    root.append(grab);
  }

  points(root, lay) {
    for (const point of this.data.points) {
      const cx = lay.middle.back + lay.across * point.across, cy = lay.y(point.x);
      const group = svg("g", { class: "point", tabindex: 0, role: "button", "data-zone": `point ${point.row}`,
        "aria-label": `the line passes ${Math.round(point.across)} mm to the right, ${this.place(point.x)}; arrow keys move it, Delete takes it out` },
        svg("path", { d: `M${cx} ${cy - 8}L${cx + 8} ${cy}L${cx} ${cy + 8}L${cx - 8} ${cy}Z` }), svg("circle", { class: "grab", cx, cy, r: 14 }));
      const move = (x, across) => this.act.settle(point.row, { at: this.written(Math.min(lay.x1, Math.max(lay.x0, x))), across: this.written(across) });
      group.addEventListener("pointerdown", (event) => this.drag(event, (at) => move(lay.x(at.y), this.acrossAt("back", 0, at.x))));
      group.addEventListener("keydown", (event) => {
        const step = event.shiftKey ? 5 : 1;
        const way = { ArrowUp: [10 * step, 0], ArrowDown: [-10 * step, 0], ArrowRight: [0, step], ArrowLeft: [0, -step] }[event.key];
        if (event.key === "Delete") this.act.settle(point.row, null);
        else if (way) move(point.x + way[0], point.across + way[1]);
        else if (event.key === "Enter") this.act.go(["fix", "through", point.row, "at"]);
        else return;
        event.preventDefault();
      });
      root.append(group);
    }
  }

  zone(root, lay, bow, zone) {
    super.zone(root, lay, bow, { ...zone, aside: 0 });
  }

  // A knot of a side face is drawn in the depth, those of the split face at their place under the back.
  middleOf(zone, lay, bow, flat) {
    if (zone.face === "belly") return lay.middle.back + lay.across * zone.across;
    return flat ? lay.middle.back + lay.across * zone.across : lay.z(bow.rise[nearest(bow.x, zone.x)] - zone.across);
  }

  place(x) {
    return `${Math.round(x)} mm from the butt`;
  }

  shift(zone, x, across) {
    this.act.move(zone, { at: this.written(x), across: this.written(across) });
  }

  acrossAt(view, x, px) {
    return (px - this.lay_.middle.back) / this.lay_.across;
  }

  placed(view, x, across, sizes, end) {
    if (this.tool === "check") return { from: this.written(Math.max(0, x)), to: this.written(this.lay_.x(end.y)), across: this.written(across) };
    const place = { at: this.written(x), across: this.written(across) };
    return this.tool === "point" ? place : { ...place, face: view, ...sizes };
  }
}

export class StaveAnswers extends Answers {
  renderHead(state) {
    this.head.replaceChildren(el("p", { class: "none", text: state.sound ? "The stave is whole: the bow can be looked for in it." : "The bow can be looked for once the measures are whole." }));
  }

  renderFacts() {
    this.facts.replaceChildren();
  }

  get layout() {
    const found = this.assessed && this.assessed.result;
    return found ? found.layouts[this.chosen || 0] : null;
  }

  renderWork(state) {
    if (this.running) {
      super.renderWork(state);
      return;
    }
    this.work.replaceChildren(
      el("button", { type: "button", id: "lay", class: "main", text: "Find where the bow lies", disabled: !state.sound, onclick: () => this.act.lay() }),
      el("p", { class: "hint", text: "which end is up, the cuts and the line; a first look in seconds, then every layout is judged, which takes a minute or two" }),
      ...(this.words ? [el("p", { class: "bad", text: this.words })] : []));
  }

  renderFound(state) {
    const found = this.assessed && this.assessed.result;
    if (!found) return void this.found.replaceChildren();
    const old = this.assessed.digest !== state.digest;
    const one = this.layout;
    const box = (tag, text, lines, open) => (lines.length ? [el("details", { class: tag, open }, el("summary", { text }), el("ul", {}, ...lines.map((line) => el("li", { text: line }))))] : []);
    this.found.replaceChildren(
      ...(found.assessed ? [] : [el("p", { class: "old", text: "A first look: knots by the width they leave, nothing assessed yet." })]),
      ...(old ? [el("p", { class: "old", text: "of before your last changes: look for it again" })] : []),
      el("div", { class: "row", role: "group", "aria-label": "layouts" }, ...found.layouts.map((layout, k) => el("button", { type: "button", class: "plain", "aria-pressed": String(layout === one), text: `${layout.title}, ${layout.used}`, onclick: () => { this.chosen = k; this.act.show(); } }))),
      el("h3", { id: "laid", text: one.title }),
      el("p", { text: one.words }),
      el("p", {}, el("b", { text: `${one.used} of its strength used at most` }), one.assessed ? "" : " (not assessed)"),
      ...(one.problem ? [el("p", { class: "bad", text: one.problem })] : []),
      ...one.knots.filter((knot) => knot.verdict).map((knot) => el("p", { class: "knot-line" }, el("b", { text: `${knot.name} ` }), badge(knot.verdict), ` ${knot.used || ""}, ${FATES[knot.fate] || knot.fate}`)),
      ...box("cautions", "Why it lies so", one.reasons, true), ...box("cautions", "Mind", found.cautions, true), ...box("cautions", "Assumed", found.assumed, false),
      el("h3", { text: "Lines to draw" }),
      el("p", { class: "hint", text: "left L and right R of the snapped line; after the stroke the thickness" }),
      el("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "lines to draw" }, el("table", { class: "facts lines" }, el("thead", {}, el("tr", {}, ...one.table.heads.map((text) => el("th", { scope: "col", text })))),
        el("tbody", {}, ...one.table.rows.map((row) => el("tr", {}, ...row.map((text, k) => el(k ? "td" : "th", { text, scope: k ? null : "row" }))))))),
      ...(this.assessed.state === "done" ? [el("p", { class: "links" },
        el("a", { href: `file/${this.assessed.number}/pattern.pdf`, target: "_blank", rel: "noopener", text: "Pattern of the best at full size" }), " ",
        el("a", { href: `file/${this.assessed.number}/stave.png`, target: "_blank", rel: "noopener", text: "Picture of its back" }))] : []),
      el("button", { type: "button", id: "take-out", text: "Go on with this bow as a case", onclick: () => this.act.takeOut(this.chosen || 0) }),
    );
  }

  verdicts() {
    const one = this.layout;
    return new Map((one ? one.knots : []).filter((knot) => knot.verdict || knot.fate === "gone")
      .map((knot) => [`knot ${knot.name}`, knot.verdict ? { verdict: knot.verdict, sign: SIGNS[knot.verdict] } : { verdict: "gone", sign: "" }]));
  }
}
