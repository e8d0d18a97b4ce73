// Settling, one doubt after the other. The next ones wait here with their pictures; a decision is shown as done only once
// the desk has saved it.

import { ask, Lost, Refused } from "./ask.js";
import { askWhether, inQuestion, sayYes, withdraw } from "./question.js";
import { fetchPictures, showDoubt, showLarge } from "./show.js";
import { HINTS, meantBy } from "./typing.js";

const $ = (id) => document.getElementById(id);
const data = JSON.parse($("data").textContent);
const seat = { seat: data.seat };
const RENEW_MS = 60000; // a loan lasts three times as long
const GONE_MS = 600000; // ten minutes without a key or a touch
const FEWEST_WAITING = 5;

let doubts = []; // before this person, the first on the screen
let state = { left: 0, with_others: 0, put_off: 0 };
let busy = false;
let steps = 0; // taken here: settled, taken back, put off

const current = () => doubts[0];

// What the desk answers

function take(lent) {
  const shown = current()?.ref;
  const rest = lent.doubts.filter((d) => d.ref !== shown);
  doubts = shown ? [current(), ...rest] : rest;
  state = lent;
  fetchPictures(doubts);
  countLeft();
  if (!shown) show();
}

async function lend(more) {
  let before, lent;
  do {
    before = steps;
    lent = await ask("/settle/lend", { ...seat, sort: data.sort, ...more });
    // What was settled while the answer was on its way may still be in it.
  } while (steps !== before && doubts.length < FEWEST_WAITING);
  if (steps === before) take(lent);
}

// One at a time: of two, the first answer would bring a doubt on while its keys still waited for the second.
let lending = null;
const lendNow = (more) => (lending = lend(more).finally(() => (lending = null)));
const refill = () => lending ?? lendNow({});

async function refillWithPutOff() {
  await lending;
  await lendNow({ put_off: true });
}

/** On to the next doubt; waits for the desk only where the clerk was faster than it. */
async function next() {
  steps += 1;
  doubts.shift();
  countLeft();
  if (!doubts.length) {
    await refill();
    return;
  }
  show();
  if (doubts.length < FEWEST_WAITING) refill().catch(trouble);
}

async function decide(how, value = null, sure = false) {
  const doubt = current();
  if (!doubt) return;
  await doing(async () => {
    const said = await ask("/settle/decide", { ...seat, ref: doubt.ref, seen: doubt.seen, how, value, sure });
    state.left = said.left;
    if (!said.saved) {
      askWhether(`${said.asks} Does the paper say so?`, ["The paper says so", "Change it"], () => decide("said", value, true));
      return;
    }
    news(`Saved: ${doubt.title}, sheet ${doubt.number}: ${said.words}. ${said.note ?? ""}`);
    await next();
  });
}

async function undo() {
  await doing(async () => {
    const taken = await ask("/settle/undo", seat);
    steps += 1;
    state.left = taken.left;
    if (taken.doubt) {
      doubts = [taken.doubt, ...doubts.filter((d) => d.ref !== taken.doubt.ref)];
      fetchPictures(doubts);
      show();
    }
    countLeft();
    news(taken.said);
  });
}

function askVoid() {
  const doubt = current();
  if (!doubt) return;
  const sheet = [`sheet ${doubt.number}`, doubt.unit, doubt.date].filter(Boolean).join(", ");
  askWhether(
    `Is ${sheet} crossed out as a whole? Then nothing on it counts, and a defect on it has to stand on another sheet.`,
    ["It is void", "It counts"],
    () => voidSheet(doubt),
  );
}

async function voidSheet(doubt) {
  await doing(async () => {
    const voided = await ask("/settle/void", { ...seat, ref: doubt.ref });
    state.left = voided.left;
    doubts = [doubt, ...doubts.filter((d) => d.number !== doubt.number)];
    news(voided.said);
    await next();
  });
}

async function later() {
  const doubt = current();
  if (!doubt) return;
  await doing(async () => {
    await ask("/settle/later", { ...seat, ref: doubt.ref });
    news(`Put off: ${doubt.title}, sheet ${doubt.number}. It comes again at the end.`);
    await next();
  });
}

/** Runs one errand at a time; whatever goes wrong ends in a sentence and leaves the doubt where it is. */
async function doing(errand) {
  if (busy) return;
  busy = true;
  document.body.classList.add("busy");
  try {
    await errand();
    $("alarm").hidden = true;
  } catch (problem) {
    trouble(problem);
  } finally {
    busy = false;
    document.body.classList.remove("busy");
  }
}

function trouble(problem) {
  if (problem instanceof Refused && problem.status === 409) {
    news(problem.message);
    next().catch(trouble);
    return;
  }
  const lost = problem instanceof Lost;
  const out = problem instanceof Refused && problem.status === 401;
  if (!lost && !(problem instanceof Refused)) throw problem;
  $("alarm-said").textContent = lost
    ? "The desk does not answer. This was not saved, and nothing is kept back to be sent later. See whether scanform desk still runs, then do it again; what was saved before is safe."
    : problem.message;
  $("alarm-again").hidden = !lost;
  $("alarm-sign-in").hidden = !out;
  $("alarm").hidden = false;
}

// What the person sees

function show() {
  const doubt = current();
  withdraw();
  $("desk").hidden = !doubt;
  $("done").hidden = Boolean(doubt);
  if (!doubt) {
    showDone();
    return;
  }
  showDoubt(doubt, (value) => unlessTyped(() => decide("said", value)));
  $("typed").placeholder = HINTS[doubt.typed_as] ?? HINTS.words;
  if (doubt.spot_check && !$("typing").hidden) $("typed").focus();
  else $("title").focus({ preventScroll: true });
}

function showDone() {
  const { put_off, with_others, left } = state;
  $("done-title").textContent = left === 0 ? "All settled" : "Nothing more for you here";
  const parts = [];
  if (put_off) parts.push(`${put_off} put off by you.`);
  if (with_others) parts.push(`${with_others} before somebody else just now; what they leave comes back within three minutes.`);
  if (left === 0) parts.push("Every field is accepted or confirmed. Feed the next stack, or look something up.");
  else if (!parts.length) parts.push(data.sort ? "No more of this sort waits. Others do." : "What waited has been settled meanwhile.");
  $("done-said").textContent = parts.join(" ");
  $("done-unread").hidden = !data.unread;
  $("done-unread-said").textContent = `${data.unread}.`;
  $("put-off-again").hidden = !put_off;
  $("done-title").tabIndex = -1;
  $("done-title").focus();
}

function countLeft() {
  $("left").textContent = state.left.toLocaleString("en");
  $("left-words").textContent = state.left === 1 ? "waits" : "wait";
}

function news(text) {
  $("news").textContent = text;
}

function sayNo() {
  withdraw();
  if ($("typing").hidden) $("title").focus();
  else $("typed").focus();
}

const meant = () => {
  const doubt = current();
  const near = doubt.date ?? (doubt.typed_as === "date" ? doubt.reading?.value : null) ?? data.today;
  return meantBy($("typed").value, doubt.typed_as, { near, units: data.units });
};

function saveTyped() {
  const said = meant();
  if (said) decide("said", said.value);
  else if (current().reading && !$("typed").value.trim()) decide("as-read");
  else news("Type what the paper says, or press Esc and then B if it is blank.");
}

const inEntry = () => (current() && !$("typing").hidden ? $("typed").value.trim() : "");

/** Does what a button says, unless the entry holds text: what somebody has typed is never passed over unasked. */
function unlessTyped(then) {
  const typed = inEntry();
  if (!typed) then();
  else askWhether(`You have typed “${typed}”. Save that? If it is wrong, empty the entry first.`, ["Save what I typed", "Back to the entry"], () => {
    sayNo();
    saveTyped();
  });
}

// Keys and buttons

const SINGLE = { b: () => decide("said", null), l: later, v: askVoid, z: undo, w: () => current() && showLarge(current()), t: () => $("typed").focus() };
const LOOKS = ["w", "t"]; // of these, those that change nothing

function onKey(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.repeat || $("large").open) return;
  const typing = event.target === $("typed");
  if (event.key === "Escape") {
    if (inQuestion()) sayNo();
    else if (typing) $("title").focus();
    return;
  }
  if (!$("keys").checked || typing || event.target.matches("input, select, textarea")) return;
  if (event.key === "Enter") {
    if (event.target.matches("button, a")) return; // it is pressed anyway
    event.preventDefault();
    if (inQuestion()) sayYes();
    else if (inEntry()) saveTyped();
    else if (current()?.reading) decide("as-read");
    return;
  }
  if (inQuestion()) return; // it hides what the keys stand for
  const key = event.key.toLowerCase();
  const doubt = current();
  const answer = doubt?.answers.find((a) => a.key === key);
  const other = /^[1-9]$/.test(key) ? doubt?.alternatives[Number(key) - 1] : undefined;
  const does = answer || other || SINGLE[key];
  if (does && inEntry() && !LOOKS.includes(key)) news(`“${inEntry()}” is typed: Enter saves it, T goes on typing. Other keys wait until the entry is empty.`);
  else if (answer) decide("said", answer.value);
  else if (other) decide("said", other.value);
  else if (SINGLE[key] && !(key === "t" && $("typing").hidden)) SINGLE[key]();
  else return;
  event.preventDefault();
}

document.addEventListener("keydown", onKey);
$("accept").addEventListener("click", () => unlessTyped(() => decide("as-read")));
$("yes").addEventListener("click", sayYes);
$("no").addEventListener("click", sayNo);
$("blank").addEventListener("click", () => unlessTyped(SINGLE.b));
$("later").addEventListener("click", () => unlessTyped(later));
$("void").addEventListener("click", () => unlessTyped(askVoid));
$("undo").addEventListener("click", () => unlessTyped(undo));
$("done-undo").addEventListener("click", undo);
$("whole").addEventListener("click", SINGLE.w);
$("page").addEventListener("click", SINGLE.w);
$("large").addEventListener("close", () => inEntry() && $("typed").focus());
$("put-off-again").addEventListener("click", () => doing(refillWithPutOff));
$("alarm-again").addEventListener("click", () => doing(refill));
$("typing").addEventListener("submit", (event) => {
  event.preventDefault();
  saveTyped();
});
$("typed").addEventListener("input", () => {
  const said = meant();
  $("meant").textContent = said?.words ? `Enter saves ${said.words}` : "";
});

// Somebody who has gone leaves the page open: then loans run out, and in time the session does.
let touched = Date.now();
for (const sign of ["keydown", "pointerdown", "wheel"]) addEventListener(sign, () => (touched = Date.now()), { passive: true });
setInterval(() => {
  const here = document.visibilityState === "visible" && Date.now() - touched < GONE_MS;
  if (!busy && here) refill().catch(trouble);
}, RENEW_MS);
addEventListener("pagehide", () => ask("/settle/hand-back", seat, { keepalive: true }).catch(() => {}));
addEventListener("pageshow", (event) => {
  if (event.persisted) location.reload(); // what was on loan has been handed back
});

// What this very tab held before it was loaded anew may not have come back yet; another tab keeps what is before it.
const replaced = sessionStorage.getItem("seat");
sessionStorage.setItem("seat", data.seat);
const first = replaced ? await ask("/settle/lend", { ...seat, sort: data.sort, instead_of: replaced }).catch(() => data.first) : data.first;
take(first);
if (!current()) show();
