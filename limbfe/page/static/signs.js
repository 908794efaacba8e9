// What plus and minus mean, as small pictures: an arrow on the limb beats a word about it.

import { svg } from "./make.js";

const arrow = (x1, y1, x2, y2) => {
  const angle = Math.atan2(y2 - y1, x2 - x1);
  const head = (turn) => `${x2 - 7 * Math.cos(angle + turn)} ${y2 - 7 * Math.sin(angle + turn)}`;
  return svg("path", { class: "arrow", d: `M${x1} ${y1}L${x2} ${y2}M${head(0.5)}L${x2} ${y2}L${head(-0.5)}` });
};
const limb = (d) => svg("path", { class: "limb", d });

// Each draws into 64 by 40 with the sign s: 1, -1, or 0 for both ways.
const PICTURES = {
  // the limb seen as the archer sees it, upright: his right is right
  across: (s) => [limb("M28 38L30 2L34 2L36 38Z"), ...ways(s, (k) => arrow(32 + 6 * k, 16, 32 + 24 * k, 16))],
  // from his right side: the target lies to the right
  ahead: (s) => [limb(s < 0 ? "M30 38Q30 14 14 3L18 1Q35 12 35 38Z" : "M30 38Q30 14 46 3L50 5Q35 14 35 38Z"), ...ways(s, (k) => arrow(32 + 4 * k, 30, 32 + 24 * k, 30))],
  // a section looked at up the bow, back on top
  thicker: (s) => [limb("M12 12Q32 2 52 12L52 30Q32 40 12 30Z"), svg("path", { class: "line", d: s < 0 ? "M12 28L52 15" : s > 0 ? "M12 15L52 28" : "M12 20L52 20" })],
  turned: (s) => [svg("g", { transform: `rotate(${s * 16} 32 22)` }, limb("M14 14L50 14L50 28L14 28Z"), arrow(32, 14, 32, 1)), svg("path", { class: "arrow", d: s < 0 ? "M22 8L12 10" : s > 0 ? "M42 8L52 10" : "M20 8L44 8" })],
  // fibres in the face, the tip above
  slope: (s) => [limb("M24 38L26 2L38 2L40 38Z"), ...[-4, 3, 10].map((shift) => svg("path", { class: "line", d: `M${29 + shift - s * 4} 36L${29 + shift + s * 5} 5` }))],
  // fibres from the side, the back to the right, the tip above
  out: (s) => [limb("M26 38L27 2L37 2L38 38Z"), ...[-2, 4].map((shift) => svg("path", { class: "line", d: `M${29 + shift - s * 3} 36L${29 + shift + s * 6} 5` }))],
  // the bow upright
  up: (s) => [limb("M31 39Q24 20 31 1L33 1Q27 20 33 39Z"), ...ways(s, (k) => arrow(40, 20 - 2 * k, 40, 20 - 15 * k))],
};

function ways(s, draw) {
  return s === 0 ? [draw(1), draw(-1)] : [draw(s)];
}

export function signOf(text) {
  const word = String(text).trim();
  if (!/[1-9]/.test(word)) return 0;
  return word.startsWith("-") || word.startsWith("\u2212") ? -1 : 1;
}

export function signPicture(name, text) {
  return svg("svg", { class: "sign-picture", viewBox: "0 0 64 40", width: 64, height: 40, "aria-hidden": "true" }, ...PICTURES[name](signOf(text)));
}

export function signWords(sign, text) {
  const s = signOf(text);
  return s > 0 ? sign.plus : s < 0 ? sign.minus : `+ ${sign.plus}; \u2212 ${sign.minus}`;
}
