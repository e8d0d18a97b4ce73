// Fields as shapes on the page, in mm: their boxes, and what moving, sizing and another kind make of these.

/** What a kind is called; in the order in which they are offered. */
export const KINDS = {
  text: "writing",
  choice: "boxes to tick",
  mark: "place for a sign",
  circle: "words to circle",
  comb: "cells",
  date: "date, written",
  number: "number, written",
  signature: "signature",
  decision: "boxes for a decision",
};
const LEAST_MM = 1;
const NEW_CELLS = 5;
const NEW_ANSWERS = 3; // boxes; what each of them means the person has to say
const SAME_MM = 0.1; // what rounding may leave between a place and itself

/** The key under which a kind has its boxes. */
export const placeOf = (kind) => ({ comb: "cells_mm", choice: "answers", decision: "answers", circle: "answers" })[kind] ?? "box_mm";

/** All boxes of a field, [x, y, w, h] each. */
export function boxesOf(field) {
  const place = placeOf(field.kind);
  if (place === "box_mm") return field.box_mm ? [field.box_mm] : [];
  return place === "answers" ? field.answers.map((answer) => answer.box_mm) : field.cells_mm;
}

/** The box around boxes; null around none. */
export function around(boxes) {
  if (!boxes.length) return null;
  const left = Math.min(...boxes.map((b) => b[0]));
  const top = Math.min(...boxes.map((b) => b[1]));
  return [left, top, Math.max(...boxes.map((b) => b[0] + b[2])) - left, Math.max(...boxes.map((b) => b[1] + b[3])) - top].map(round);
}

export const round = (mm) => Math.round(mm * 100) / 100;

/** Puts a field's boxes, as many as it has, where `boxes` are. What was said of their place before counts no more. */
export function put(field, boxes) {
  const place = placeOf(field.kind);
  field.placed = false;
  if (place === "box_mm") field.box_mm = boxes[0];
  else if (place === "cells_mm") field.cells_mm = boxes;
  else field.answers.forEach((answer, n) => { answer.box_mm = boxes[n]; });
}

function within([x, y, w, h], page) {
  const wide = Math.min(Math.max(w, LEAST_MM), page.width);
  const high = Math.min(Math.max(h, LEAST_MM), page.height);
  return [Math.min(Math.max(x, 0), page.width - wide), Math.min(Math.max(y, 0), page.height - high), wide, high].map(round);
}

/** Moves a field, or one box of it (`part`, null for all), and keeps it on the page. */
export function move(field, part, dx, dy, page) {
  const boxes = boxesOf(field);
  const moving = part === null ? around(boxes) : boxes[part];
  const to = within([moving[0] + dx, moving[1] + dy, moving[2], moving[3]], page);
  const [x, y] = [to[0] - moving[0], to[1] - moving[1]];
  put(field, boxes.map((b, n) => (part === null || part === n ? [round(b[0] + x), round(b[1] + y), b[2], b[3]] : b)));
}

// Up to the page's edge and no further: a side that grows leaves the corner where it is.
function grown([x, y, w, h], dw, dh, page) {
  const side = (mm, room) => Math.max(Math.min(mm, room), LEAST_MM);
  return [x, y, side(w + dw, page.width - x), side(h + dh, page.height - y)].map(round);
}

/** Sizes a field: a comb's cells share the new width, other boxes grow each by itself. */
export function size(field, part, dw, dh, page) {
  const boxes = boxesOf(field);
  if (placeOf(field.kind) === "cells_mm" && part === null) {
    field.cells_mm = cut(grown(around(boxes), dw, dh, page), boxes.length);
    return;
  }
  put(field, boxes.map((b, n) => (part === null || part === n ? grown(b, dw, dh, page) : b)));
}

/** A row of `n` equal cells that fills a box. */
export function cut([x, y, w, h], n) {
  return Array.from({ length: n }, (_, k) => [round(x + (w * k) / n), y, round(w / n), h]);
}

/**
 * Makes the field one of another kind where it stands. What it had as the old kind it keeps, and has it again when it
 * comes back. Places that nobody has seen on the form are to be looked at, and what an answer means is never guessed.
 */
export function turnInto(field, kind) {
  const [before, boxes] = [placeOf(field.kind), boxesOf(field)];
  const all = around(boxes) ?? [20, 20, 40, 8];
  field.kind = kind;
  if (kind === "comb") field.charset ||= "digits";
  const place = placeOf(kind);
  if (place === before) return;
  if (place === "box_mm") [field.box_mm] = brought(field.box_mm ? [field.box_mm] : [all], all);
  else if (place === "cells_mm") field.cells_mm = field.cells_mm.length ? brought(field.cells_mm, all) : cut(all, boxes.length > 1 ? boxes.length : NEW_CELLS);
  else if (field.answers.length) put(field, brought(boxesOf(field), all));
  else field.answers = (boxes.length > 1 ? boxes : cut(all, NEW_ANSWERS)).map((box_mm) => ({ answer: "", box_mm }));
  field.placed = false;
  field.unsure = true;
}

// Boxes as they were if they fill `all`; if the field was moved or sized meanwhile, they go with it.
function brought(boxes, all) {
  const was = around(boxes);
  if (was.every((mm, k) => Math.abs(mm - all[k]) < SAME_MM)) return boxes;
  const [across, down] = [all[2] / was[2], all[3] / was[3]];
  return boxes.map(([x, y, w, h]) => [all[0] + (x - was[0]) * across, all[1] + (y - was[1]) * down, w * across, h * down].map(round));
}

/** One more answer beside the last, for the person to name. */
export function addAnswer(field, page) {
  const last = field.answers.at(-1)?.box_mm ?? [20, 20, 5, 5];
  const before = field.answers.at(-2)?.box_mm;
  const pitch = before ? [last[0] - before[0], last[1] - before[1]] : [last[2] + 2, 0];
  field.placed = false;
  field.answers.push({ answer: "", box_mm: within([last[0] + pitch[0], last[1] + pitch[1], last[2], last[3]], page) });
}

/** The fields as one reads them: line by line, each from left to right. */
export function inReadingOrder(fields) {
  const placed = fields.map((field) => ({ field, box: around(boxesOf(field)) ?? [0, 0, 0, 0] }));
  placed.sort((a, b) => a.box[1] + a.box[3] / 2 - (b.box[1] + b.box[3] / 2));
  const lines = [];
  for (const one of placed) {
    const line = lines.at(-1);
    const middle = one.box[1] + one.box[3] / 2;
    if (line && middle < line.at(-1).box[1] + line.at(-1).box[3]) line.push(one);
    else lines.push([one]);
  }
  return lines.flatMap((line) => line.sort((a, b) => a.box[0] - b.box[0])).map((one) => one.field);
}
