// The file as it is, for whoever would rather type it.

import { el } from "./make.js";

const TYPING = 300; // ms without a key before it is sent

export class FileText {
  constructor(sheet, send) {
    this.timer = 0;
    this.area = el("textarea", {
      id: "text", rows: 24, spellcheck: "false", "aria-label": "the file as it is",
      oninput: () => { clearTimeout(this.timer); this.timer = setTimeout(() => send(this.area.value), TYPING); },
      onblur: () => this.state && this.render(this.state),
    });
    this.details = el("details", {}, el("summary", {}, el("h2", { text: "The file as it is" })), this.area);
    sheet.append(el("section", { class: "entry-card", id: "card-text", "aria-label": "the file" }, this.details));
  }

  render(state) {
    this.state = state;
    if (state.raw === null) this.details.open = true;
    if (document.activeElement !== this.area) this.area.value = state.text;
  }
}
