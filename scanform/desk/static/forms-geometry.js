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
const NEW_ANSWERS = ["ok", "defect", "na"];

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

function put(field, boxes) {
  const place = placeOf(field.kind);
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

/** Sizes a field: a comb's cells share the new width, other boxes grow each by itself. */
export function size(field, part, dw, dh, page) {
  const boxes = boxesOf(field);
  if (placeOf(field.kind) === "cells_mm" && part === null) {
    const [x, y, w, h] = around(boxes);
    field.cells_mm = cut(within([x, y, w + dw, h + dh], page), boxes.length);
    return;
  }
  put(field, boxes.map((b, n) => (part === null || part === n ? within([b[0], b[1], b[2] + dw, b[3] + dh], page) : b)));
}

/** A row of `n` equal cells that fills a box. */
export function cut([x, y, w, h], n) {
  return Array.from({ length: n }, (_, k) => [round(x + (w * k) / n), y, round(w / n), h]);
}

/** Makes the field one of another kind where it stands. */
export function turnInto(field, kind) {
  const [before, boxes] = [placeOf(field.kind), boxesOf(field)];
  const all = around(boxes) ?? [20, 20, 40, 8];
  field.kind = kind;
  const place = placeOf(kind);
  if (place === "cells_mm") {
    if (before !== place) field.cells_mm = cut(all, boxes.length > 1 ? boxes.length : NEW_CELLS);
    field.charset ||= "digits";
  } else if (place === "answers") {
    if (before !== place) {
      const names = boxes.length > 1 ? boxes.map((_, n) => NEW_ANSWERS[n] ?? `answer-${n + 1}`) : NEW_ANSWERS;
      const rooms = boxes.length > 1 ? boxes : cut(all, names.length);
      field.answers = names.map((answer, n) => ({ answer, box_mm: rooms[n] }));
    }
  } else field.box_mm = all;
}

/** One more answer beside the last. */
export function addAnswer(field, page) {
  const last = field.answers.at(-1)?.box_mm ?? [20, 20, 5, 5];
  const before = field.answers.at(-2)?.box_mm;
  const pitch = before ? [last[0] - before[0], last[1] - before[1]] : [last[2] + 2, 0];
  const free = [...NEW_ANSWERS, `answer-${field.answers.length + 1}`].find((name) => !field.answers.some((a) => a.answer === name));
  field.answers.push({ answer: free ?? "", box_mm: within([last[0] + pitch[0], last[1] + pitch[1], last[2], last[3]], page) });
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
