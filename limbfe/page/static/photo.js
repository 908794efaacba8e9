// A photo of the back laid under the drawing.  It never leaves the browser: it is made smaller here,
// without what the camera wrote into it, and kept in this tab until that is closed.

import { el, svg, newId } from "./make.js";

const KINDS = ["image/jpeg", "image/png", "image/webp"];
const LARGEST_FILE = 40e6; // bytes
const LARGEST_SIDE = 2000; // pixels kept
const MOST_KEPT = 3.5e6; // signs: a tab may keep five million

export class Photo {
  constructor(box, act) {
    this.act = act; // { changed(), say(text), points(photo) -> Promise }
    this.name = null;
    this.kept = null; // { data, width, height, points: [{u, v, x}], share }
    this.url = "";
    this.image = svg("image", { preserveAspectRatio: "none", "clip-path": "none" });
    this.file = el("input", { type: "file", accept: KINDS.join(), class: "unseen", "aria-label": "photo of the back", tabindex: -1, onchange: () => this.choose() });
    this.add = el("button", { type: "button", text: "Lay a photo of the back under it", onclick: () => this.file.click() });
    const id = newId();
    this.slider = el("input", { type: "range", id, min: 0, max: 100, oninput: () => { this.kept.share = this.slider.value / 100; this.keep(); this.act.changed(); } });
    this.tools = el("div", { class: "photo-tools", hidden: true }, el("label", { for: id, text: "photo" }), this.slider,
      el("button", { type: "button", class: "plain", text: "Set its two points", onclick: () => this.settle() }),
      el("button", { type: "button", class: "plain", text: "Take it away", onclick: () => this.drop() }));
    box.append(this.file, this.add, this.tools);
  }

  get there() {
    return Boolean(this.kept);
  }

  get share() {
    return this.kept ? this.kept.share : 0;
  }

  // That of the file that is open now.
  open(name) {
    if (name === this.name) return;
    if (this.name !== null && this.name.startsWith("desk ") && this.kept && !sessionStorage.getItem(`photo ${name}`)) {
      // the bow got its file
      sessionStorage.removeItem(`photo ${this.name}`);
      this.name = name;
      this.keep();
      return;
    }
    this.name = name;
    let kept = null;
    try {
      kept = JSON.parse(sessionStorage.getItem(`photo ${name}`));
    } catch {
      kept = null;
    }
    this.show(kept && typeof kept.data === "string" && Array.isArray(kept.points) ? kept : null);
  }

  show(kept) {
    this.kept = kept;
    if (this.url) URL.revokeObjectURL(this.url);
    this.url = "";
    if (kept) {
      const bytes = Uint8Array.from(atob(kept.data), (sign) => sign.charCodeAt(0));
      this.url = URL.createObjectURL(new Blob([bytes], { type: "image/jpeg" }));
      this.image.setAttribute("href", this.url);
      this.image.setAttribute("width", kept.width);
      this.image.setAttribute("height", kept.height);
      this.slider.value = Math.round(100 * kept.share);
    }
    this.tools.hidden = !kept;
    this.add.hidden = Boolean(kept);
  }

  keep() {
    try {
      sessionStorage.setItem(`photo ${this.name}`, JSON.stringify(this.kept));
    } catch {
      this.act.say("the photo is too large to outlive a reload of this page");
    }
  }

  async choose() {
    const file = this.file.files[0];
    this.file.value = "";
    if (!file) return;
    if (!KINDS.includes(file.type)) return void this.act.say(`${file.name}: is no photo in JPEG, PNG or WebP`);
    if (file.size > LARGEST_FILE) return void this.act.say(`${file.name}: is larger than ${LARGEST_FILE / 1e6} MB; make it smaller first`);
    let made;
    try {
      made = await smaller(file);
    } catch {
      return void this.act.say(`${file.name}: cannot be read as a picture`);
    }
    const wide = made.width > made.height;
    const [x0, x1] = this.act.ends();
    // lying: the lower tip, or the butt, to the left; standing: below
    made.points = wide
      ? [{ u: 0.05 * made.width, v: 0.5 * made.height, x: x0 }, { u: 0.95 * made.width, v: 0.5 * made.height, x: x1 }]
      : [{ u: 0.5 * made.width, v: 0.95 * made.height, x: x0 }, { u: 0.5 * made.width, v: 0.05 * made.height, x: x1 }];
    this.show({ ...made, share: 0.6 });
    this.keep();
    this.act.changed();
    await this.settle();
  }

  async settle() {
    const points = await this.act.points({ url: this.url, ...this.kept });
    if (points) this.kept.points = points;
    this.keep();
    this.act.changed();
  }

  drop() {
    sessionStorage.removeItem(`photo ${this.name}`);
    this.show(null);
    this.act.changed();
  }

  // The photo on the back of a drawing: two of its points lie on the middle line at their stations.
  nodes(lay, data) {
    if (!this.kept || !data.bow) return [];
    const [p, q] = this.kept.points;
    const side = (point) => lay.turn.back * this.act.aside(point.x);
    // turned and scaled alike both ways, from pixels to mm: (right, down) = a (u, v) + b
    const du = q.u - p.u, dv = q.v - p.v, dr = side(q) - side(p), dy = -(q.x - p.x);
    const size = du * du + dv * dv;
    const re = (dr * du + dy * dv) / size, im = (dy * du - dr * dv) / size;
    const right = side(p) - (re * p.u - im * p.v), down = -p.x - (im * p.u + re * p.v);
    const { across, along } = lay;
    const place = [across * re, along * im, -across * im, along * re, across * right + lay.middle.back, along * down + lay.y(0)];
    this.image.setAttribute("transform", `matrix(${place.map((n) => n.toPrecision(8)).join(" ")})`);
    this.image.setAttribute("opacity", Math.min(1, 0.15 + this.kept.share));
    return [svg("g", { class: "photo", "clip-path": "url(#back-only)", "aria-hidden": "true" }, this.image)];
  }
}

// A picture no larger than is needed under a drawing, as JPEG.
async function smaller(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  for (let side = LARGEST_SIDE; ; side *= 0.7) {
    const shrink = Math.min(1, side / Math.max(picture.width, picture.height));
    const width = Math.max(1, Math.round(picture.width * shrink)), height = Math.max(1, Math.round(picture.height * shrink));
    const canvas = el("canvas", { width, height });
    canvas.getContext("2d").drawImage(picture, 0, 0, width, height);
    const data = canvas.toDataURL("image/jpeg", 0.85).split(",")[1];
    if (data.length < MOST_KEPT || side < 400) return { data, width, height };
  }
}

// Two points set on the photo, with the stations they are at; null if it was put aside.
export function askPoints(dialog, photo, { read, write, first, second }) {
  const points = photo.points.map((point) => ({ ...point }));
  const names = [first, second];
  const shape = { viewBox: `0 0 ${photo.width} ${photo.height}`, class: "photo-whole", role: "group", "aria-label": "the photo and its two points" };
  const root = svg("svg", shape, svg("image", { href: photo.url, width: photo.width, height: photo.height }));
  const size = Math.max(photo.width, photo.height) / 60;
  const marks = points.map((point, k) => {
    const mark = svg("g", { class: "photo-point", tabindex: 0, role: "button", "aria-label": `${names[k]}; arrow keys move it` });
    const draw = () => mark.replaceChildren(
      svg("circle", { cx: point.u, cy: point.v, r: 1.6 * size, class: "grab" }),
      svg("path", { d: `M${point.u - size} ${point.v}L${point.u + size} ${point.v}M${point.u} ${point.v - size}L${point.u} ${point.v + size}`, "stroke-width": size / 5 }),
      svg("circle", { cx: point.u, cy: point.v, r: size, class: "ring", "stroke-width": size / 6 }),
      svg("text", { x: point.u + 1.3 * size, y: point.v - size, "font-size": 2.2 * size, text: k + 1 }));
    const put = (u, v) => {
      point.u = Math.min(photo.width, Math.max(0, u));
      point.v = Math.min(photo.height, Math.max(0, v));
      draw();
    };
    const pixel = (event) => {
      const box = root.getBoundingClientRect();
      return [(event.clientX - box.left) * photo.width / box.width, (event.clientY - box.top) * photo.height / box.height];
    };
    mark.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      mark.focus();
      mark.setPointerCapture(event.pointerId);
      mark.onpointermove = (next) => put(...pixel(next));
      mark.onpointerup = mark.onpointercancel = () => { mark.onpointermove = null; };
    });
    mark.addEventListener("keydown", (event) => {
      const step = (event.shiftKey ? 10 : 1) * Math.max(1, size / 8);
      const way = { ArrowUp: [0, -step], ArrowDown: [0, step], ArrowLeft: [-step, 0], ArrowRight: [step, 0] }[event.key];
      if (!way) return;
      event.preventDefault();
      put(point.u + way[0], point.v + way[1]);
    });
    draw();
    return mark;
  });
  root.append(...marks);
  const fault = el("p", { class: "fault", role: "alert", hidden: true });
  const inputs = points.map((point) => el("input", { type: "text", spellcheck: "false", value: write(point.x), id: newId() }));
  return new Promise((done) => {
    let answer = null;
    const finish = () => {
      const read_ = inputs.map((input) => read(input.value));
      const near = Math.hypot(points[0].u - points[1].u, points[0].v - points[1].v) < 2 * size;
      fault.hidden = read_.every((x) => x !== null) && Math.abs(read_[0] - read_[1]) >= 20 && !near;
      fault.textContent = near ? "\u2715 the two points must lie apart" : "\u2715 each point needs its station, a length, and the two must differ";
      if (!fault.hidden) return;
      answer = points.map((point, k) => ({ ...point, x: read_[k] }));
      dialog.close();
    };
    dialog.classList.add("wide");
    dialog.replaceChildren(
      el("h2", { id: "question-title", text: "Two points of the photo" }),
      el("p", { text: "Set both marks on the middle line of the back, far apart, and say where they are. The photo stays in this browser and is gone with this tab." }),
      root,
      el("div", { class: "fields" }, ...inputs.map((input, k) => el("div", { class: "field" }, el("label", { for: input.id, text: `${k + 1}: ${names[k]}` }), input))),
      fault,
      el("div", { class: "row" }, el("button", { type: "button", class: "main", text: "Lay it under the drawing", onclick: finish }), el("button", { type: "button", text: "Leave it", onclick: () => dialog.close() })),
    );
    dialog.addEventListener("close", () => { dialog.classList.remove("wide"); done(answer); }, { once: true });
    dialog.showModal();
  });
}
