// What is told above the page, and what is asked before it.

import { el, byId } from "./make.js";

export function notice(text, buttons = [], stay = false) {
  const box = byId("notice");
  box.replaceChildren(el("p", { text }), ...buttons.map(([label, act]) => el("button", { type: "button", text: label, onclick: () => { box.replaceChildren(); act(); } })),
    ...(stay ? [] : [el("button", { type: "button", text: "Close", onclick: () => box.replaceChildren() })]));
}

// A question with named answers; null if it was put aside.
export function question(title, text, choices, field = null) {
  const dialog = byId("question");
  const input = field && el("input", { type: "text", id: "question-field", value: field.value });
  return new Promise((done) => {
    let answer = null;
    const pick = (key) => { answer = input ? { key, text: input.value } : key; dialog.close(); };
    dialog.replaceChildren(
      el("h2", { id: "question-title", text: title }), el("p", { text }),
      ...(input ? [el("label", { for: "question-field", text: field.label }), input] : []),
      el("div", { class: "row" }, ...choices.map(([key, label], k) => el("button", { type: "button", class: k ? null : "main", text: label, onclick: () => pick(key) })),
        el("button", { type: "button", text: "Leave it", onclick: () => dialog.close() })),
    );
    if (input) input.addEventListener("keydown", (event) => { if (event.key === "Enter") { event.preventDefault(); pick(choices[0][0]); } });
    dialog.addEventListener("close", () => done(answer), { once: true });
    dialog.showModal();
  });
}
