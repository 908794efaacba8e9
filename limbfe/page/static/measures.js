// Lengths as they are typed, for what is shown beside them; the file keeps what was typed.

const UNITS = { mm: 1, cm: 10, m: 1000, in: 25.4, ft: 304.8 };

function number(text) {
  const match = /^([+-]?)(?:(\d+(?:\.\d*)?|\.\d+)|(?:(\d+)[ -])?(\d+)\/(\d+))$/.exec(text.trim());
  if (!match) return null;
  const size = match[2] !== undefined ? Number(match[2]) : Number(match[3] || 0) + Number(match[4]) / Number(match[5]);
  return match[1] === "-" ? -size : size;
}

// In mm; null for what is no length.
export function lengthOf(text, unit) {
  const word = String(text).trim().replace("\u2212", "-");
  const named = /^(.*?)\s*(mm|cm|m|in|ft|"|')$/.exec(word);
  const factor = named ? UNITS[{ '"': "in", "'": "ft" }[named[2]] || named[2]] : UNITS[unit];
  const found = number(named ? named[1] : word);
  return found === null || factor === undefined || !Number.isFinite(found) ? null : found * factor;
}

// As a ruler has it: inches and sixty-fourths.
export function onRuler(mm) {
  const parts = Math.round(Math.abs(mm) / 25.4 * 64);
  let [top, under] = [parts % 64, 64];
  while (top && top % 2 === 0) [top, under] = [top / 2, under / 2];
  const whole = Math.floor(parts / 64);
  const text = `${whole || ""}${top ? `${whole ? " " : ""}${top}/${under}` : ""}` || "0";
  return `${mm < 0 && parts ? "\u2212" : ""}${text} in`;
}

export const inMm = (mm) => `${Number(mm.toFixed(1))} mm`.replace("-", "\u2212");

// A length dragged on the drawing, in the unit of the case: whole mm, or sixteenths of an inch.
export function written(mm, unit) {
  if (unit !== "in") return `${Math.round(mm * 2) / 2} mm`;
  return onRuler(Math.round(mm / 25.4 * 16) / 16 * 25.4).replace("\u2212", "-");
}
