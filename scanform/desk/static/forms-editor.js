// The editor of a form: its state, undoing, keeping, choosing, and what keys do.
import { ask } from "./ask.js";
import { drawing, icon } from "./forms-draw.js";
import { around, boxesOf, inReadingOrder, KINDS, move, round, size } from "./forms-geometry.js";
import { hand } from "./forms-hand.js";
import { saving } from "./forms-save.js";
import { side } from "./forms-side.js";
import { trying } from "./forms-try.js";
import { sentence } from "./record.js";

const NUDGE_MM = 0.5;
const KEEP_AFTER_MS = 400;
const CLOSER = 1.25;
const $ = (selector) => document.querySelector(selector);

const data = JSON.parse($("#data").textContent);
const mayEdit = Boolean(data.draft);
const page = { width: data.width, height: data.height, blank: data.blank };
const state = { form: data.form, chosen: data.form.fields.length ? 0 : -1, part: null };
let { faults, rev } = data;
const picture = drawing($("#sheet"), page);
const list = $("#list");

// Changing, and taking back. A snapshot is some 50 kB, so there is no end to the steps.
const past = [];
const ahead = [];
let lastKey = null;
const snapshot = () => JSON.stringify(state);

/** Makes a change; those in a row with the same key, as in typing a word, are one step back. `told`: what it was. */
function change(key, what, told = "") {
  if (!mayEdit) return;
  if (key === null || key !== lastKey) past.push(snapshot());
  lastKey = key;
  ahead.length = 0;
  what();
  show();
  keepSoon(told);
}

function back(from, to) {
  if (!from.length) return;
  to.push(snapshot());
  Object.assign(state, JSON.parse(from.pop()));
  lastKey = null;
  document.activeElement?.matches?.("input") && document.activeElement.blur();
  show();
  keepSoon("");
}

// Keeping: one change at a time is sent, the newest last.
let timer = null;
let unsent = false;
let sending = null;
let lastTold = "";
function stand(words) {
  for (const place of [$("#state"), $("#beside")]) place.textContent = `${lastTold} ${words}`.trim();
}

function keepSoon(told) {
  unsent = true;
  lastTold = told;
  stand("Not kept yet");
  clearTimeout(timer);
  timer = setTimeout(kept, KEEP_AFTER_MS);
}

/** Keeps what is not kept yet; false if the desk could not. */
async function kept() {
  clearTimeout(timer);
  while (sending) await sending;
  if (!unsent) return true;
  unsent = false;
  sending = send();
  return sending;
}

async function send() {
  try {
    ({ rev, faults } = await sent());
    if (!unsent) stand(faults.length ? `Kept; ${faults.length} to put right` : "Kept on the desk");
    $("#form-said").hidden = true;
    return true;
  } catch (problem) {
    unsent = true;
    say(sentence(problem));
    stand("Not kept");
    return false;
  } finally {
    sending = null;
    show();
  }
}

async function sent() {
  const answer = await ask(`/forms/drafts/${data.draft}`, { rev, form: state.form });
  $("#version").textContent = answer.version;
  return answer;
}

function say(text) {
  $("#form-said").textContent = text;
  $("#form-said").hidden = false;
}

addEventListener("beforeunload", (event) => {
  if (unsent) event.preventDefault();
});

// Showing.
const faultsOf = (n) => faults.filter((fault) => fault.part === "field" && fault.at === n);
const wrong = (n) => faultsOf(n).length > 0;
const offPrint = (n) => faultsOf(n).some((fault) => fault.key === "placed");
const trouble = (n) => wrong(n) || state.form.fields[n].unsure;

function show() {
  const { fields } = state.form;
  if (state.chosen >= fields.length) state.chosen = fields.length - 1;
  while (list.children.length > fields.length) list.lastElementChild.remove();
  while (list.children.length < fields.length) list.append(row());
  fields.forEach((field, n) => fill(list.children[n].firstElementChild, field, n));
  $("#count").textContent = `(${fields.length})`;
  $("#heading").textContent = state.form.title;
  picture.show(state, trouble, mayEdit);
  panel.show(faults);
  if (!mayEdit) return;
  $("#undo").disabled = !past.length;
  $("#redo").disabled = !ahead.length;
  const left = fields.filter((_, n) => trouble(n)).length;
  $("#look").disabled = !left;
  $("#look span").textContent = left ? `Next of ${left} to look at` : "No field is unsure";
}

function row() {
  const item = document.createElement("li");
  item.append(Object.assign(document.createElement("button"), { type: "button", className: "one" }));
  return item;
}

function fill(button, field, n) {
  const words = [field.label || field.id, field.id, KINDS[field.kind], field.critical, wrong(n), field.unsure].join("\n");
  button.tabIndex = n === state.chosen || (state.chosen < 0 && n === 0) ? 0 : -1;
  button.setAttribute("aria-current", n === state.chosen);
  button.dataset.n = n;
  if (button.dataset.words === words) return; // a long list is drawn at every key
  button.dataset.words = words;
  const part = (className, text) => Object.assign(document.createElement("span"), { className, textContent: text });
  const parts = [icon(field.kind), part("one-label", field.label || field.id), part("one-id", `${field.id} · ${KINDS[field.kind]}`)];
  if (field.critical) parts.push(part("safety", "SAFETY"));
  if (wrong(n)) parts.push(part("one-trouble", "! put right"));
  else if (field.unsure) parts.push(part("one-trouble", "? look at it"));
  button.replaceChildren(...parts);
}

// Choosing. The page begins with a field that nobody has chosen.
let someChosen = false;

function choose(n, part = null, focus = "list") {
  if (!state.form.fields[n]) return;
  someChosen = true;
  if (n !== state.chosen) lastKey = null;
  state.chosen = n;
  state.part = part;
  show();
  const button = list.children[n].firstElementChild;
  button.scrollIntoView({ block: "nearest" });
  picture.group(n).scrollIntoView({ block: "nearest", inline: "nearest" });
  if (focus === "list") button.focus({ preventScroll: true });
  if (focus === "picture") picture.group(n).focus({ preventScroll: true });
}

function choosePart(part) {
  state.part = part;
  show();
}

const chosen = () => state.form.fields[state.chosen];

const panel = side({ state, page, change, mayEdit, choosePart, critical, offPrint });

function critical() {
  const field = chosen();
  if (field?.id.startsWith("item.")) mark([field.id.split(".")[1]], !field.critical);
}

/** Marks items of the check list, by name, on all their days. */
function mark(names, now = true) {
  change(null, () => {
    for (const one of state.form.fields) if (one.id.startsWith("item.") && names.includes(one.id.split(".")[1])) one.critical = now;
  });
}

// What can be done, by button and by key.
function freeId(stem) {
  const taken = new Set(state.form.fields.map((field) => field.id));
  for (let n = 1; ; n += 1) if (!taken.has(`${stem}-${n}`)) return `${stem}-${n}`;
}

function add(box) {
  const field = { id: freeId("field"), kind: "text", label: "", box_mm: box, cells_mm: [], answers: [], charset: "", pattern: "", critical: false, stage: "", unsure: false, placed: false };
  change(null, () => {
    state.form.fields.splice(state.chosen + 1, 0, field);
    state.chosen += 1;
    state.part = null;
  }, `Added ${field.id}.`);
  choose(state.chosen, null, "");
  $("#f-id").focus();
  $("#f-id").select();
}

function below() {
  const box = (chosen() && around(boxesOf(chosen()))) ?? [20, 20, 40, 8];
  const y = Math.min(box[1] + box[3] + 2, page.height - 8);
  return [box[0], y, Math.min(40, page.width - box[0]), 8].map(round);
}

const doing = {
  new: () => add(below()),
  copy: () => chosen() && change(null, () => {
    const again = structuredClone(chosen());
    again.id = freeId(again.id.replace(/-\d+$/, ""));
    state.form.fields.splice(state.chosen + 1, 0, again);
    state.chosen += 1;
    move(again, null, 0, around(boxesOf(again))?.[3] ?? 0, page);
  }),
  remove: () => {
    if (!chosen()) return;
    const inList = list.contains(document.activeElement) || $("#sheet").contains(document.activeElement);
    change(null, () => {
      state.form.fields.splice(state.chosen, 1);
      state.part = null;
    });
    if (inList) choose(state.chosen);
  },
  earlier: () => swap(-1),
  later: () => swap(1),
  order: () => change(null, () => {
    const field = chosen();
    state.form.fields = inReadingOrder(state.form.fields);
    state.chosen = state.form.fields.indexOf(field);
  }),
  right: () => {
    const off = offPrint(state.chosen);
    if (chosen()?.unsure || off) change(null, () => Object.assign(chosen(), { unsure: false, placed: off || chosen().placed }));
  },
  undo: () => back(past, ahead),
  redo: () => back(ahead, past),
  look: () => {
    const from = state.form.fields.map((_, k) => (state.chosen + 1 + k) % state.form.fields.length);
    const n = from.find(trouble);
    if (n !== undefined) choose(n);
  },
  closer: () => zoom(CLOSER),
  farther: () => zoom(1 / CLOSER),
};

function swap(by) {
  const to = state.chosen + by;
  if (!chosen() || !state.form.fields[to]) return;
  change(null, () => {
    const [field] = state.form.fields.splice(state.chosen, 1);
    state.form.fields.splice(to, 0, field);
    state.chosen = to;
  });
  if (list.contains(document.activeElement)) choose(to);
}

let wide = 1;
function zoom(times) {
  wide = Math.min(Math.max(wide * times, 0.5), 6);
  $("#sheet").style.width = `${wide * 100}%`;
  picture.group(state.chosen)?.scrollIntoView({ block: "center", inline: "center" });
}

for (const [id, what] of Object.entries(doing)) $(`#${id}`)?.addEventListener("click", what);

/** To where a fault is to be put right. */
function lead(fault) {
  if (fault.part === "field") choose(fault.at);
  else $(fault.part === "form" ? "#whole" : "#legend").open = true;
}

if (mayEdit) saving({ state, draft: data.draft, kept, now: () => ({ rev, faults }), mark, say, lead });
$("#next")?.addEventListener("click", async (event) => {
  try {
    location.href = `/forms/drafts/${(await ask(event.target.dataset.next, {})).draft}`;
  } catch (problem) {
    say(sentence(problem));
  }
});

// Keys. In an entry they are typing.
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const LETTERS = { n: "new", d: "copy", o: "order", r: "right", z: "undo", y: "redo", f: "look", "+": "closer", "-": "farther", Delete: "remove" };

document.addEventListener("keydown", (event) => {
  const { key, target } = event;
  if ($("#safety")?.open) return undefined; // it has its own keys
  const typing = target.matches?.("input:not([type=checkbox]), select, textarea");
  if (key === "Escape" && $("#side").contains(target)) return void choose(state.chosen);
  if (event.altKey && (key === "ArrowUp" || key === "ArrowDown") && mayEdit) {
    event.preventDefault();
    return void swap(ARROWS[key][1]);
  }
  if (event.ctrlKey || event.metaKey || event.altKey || typing) return undefined;
  const inPicture = target.closest?.("#sheet .field");
  const inList = list.contains(target);
  if (ARROWS[key] && inPicture && mayEdit) nudge(ARROWS[key], event.shiftKey);
  else if ((key === "ArrowUp" || key === "ArrowDown") && inList) choose(state.chosen + ARROWS[key][1]);
  else if (key === "Enter" && inPicture) choose(Number(inPicture.dataset.n), null, "picture");
  else if (key === "Escape") choose(state.chosen);
  else if (key.toLowerCase() === "m" && chosen()) choose(state.chosen, null, "picture");
  else if (key.toLowerCase() === "e" && chosen()) $("#f-id").focus();
  else if (key.toLowerCase() === "c" && mayEdit) critical();
  else if (key.toLowerCase() === "b" && chosen()) nextPart();
  else if (LETTERS[key.length === 1 ? key.toLowerCase() : key] && (mayEdit || "+-".includes(key))) doing[LETTERS[key.length === 1 ? key.toLowerCase() : key]]();
  else return undefined;
  return event.preventDefault();
});

function nextPart() {
  const many = boxesOf(chosen()).length;
  if (many > 1) choosePart(state.part === null ? 0 : state.part + 1 < many ? state.part + 1 : null);
}

function nudge([x, y], sizing) {
  const field = chosen();
  if (!boxesOf(field).length) return;
  const told = `${sizing ? "Sized" : "Moved"} ${field.label || field.id}.`;
  change(null, () => (sizing ? size : move)(field, state.part, x * NUDGE_MM, y * NUDGE_MM, page), told);
}

list.addEventListener("click", (event) => {
  const button = event.target.closest(".one");
  if (button) choose(Number(button.dataset.n));
});

hand($("#sheet"), { state, page, picture, change, choose, choosePart, add, mayEdit, someChosen: () => someChosen });
trying(data, kept, (id) => state.form.fields.find((field) => field.id === id)?.label || id);
show();
if (mayEdit && faults.length) stand(`${faults.length} to put right`);
if (state.chosen >= 0) list.children[state.chosen].firstElementChild.setAttribute("aria-current", "true");
