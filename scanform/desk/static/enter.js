// Entering a sheet by hand: one answer after the other, checked once as a whole.
import { ask } from "./ask.js";
import { tell } from "./record.js";
import { viewer } from "./viewer.js";

const root = document.querySelector(".viewer");
if (root) viewer(root);
const form = document.querySelector("#entry");
const asks = document.querySelector("#entry-asks");
let asked = "";
let kept = ""; // what leaving the page would not lose

function values() {
  const found = {};
  for (const box of form.querySelectorAll("fieldset[data-field]")) {
    found[box.dataset.field] = box.querySelector("input:checked")?.value || null;
  }
  for (const input of form.querySelectorAll("input[data-field]")) found[input.dataset.field] = input.value.trim() || null;
  return found;
}

const entered = () => ({ form: form.dataset.form, serial: form.querySelector("#serial").value, values: values() });

function say(...paragraphs) {
  asks.replaceChildren(...paragraphs);
  asks.hidden = false;
  asks.scrollIntoView({ block: "center" });
}

const paragraph = (textContent = "") => Object.assign(document.createElement("p"), { textContent });

function sayWhy(problem) {
  const said = paragraph();
  tell(said, problem);
  say(said);
}

if (form) {
  kept = JSON.stringify(entered());
  addEventListener("beforeunload", (event) => {
    if (JSON.stringify(entered()) !== kept) event.preventDefault();
  });
}

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const save = form.querySelector("#entry-save");
  const entry = entered();
  const same = JSON.stringify(entry) === asked;
  save.disabled = true;
  try {
    const answer = await ask(`/sheets/${form.dataset.number}/entry`, { ...entry, sure: same });
    if (!answer.asks.length) {
      kept = JSON.stringify(entry);
      location.assign(`/sheets/${answer.number}`);
      return;
    }
    asked = JSON.stringify(entry);
    say(...[...answer.asks, "If the paper says so, press 'Put it on record' once more."].map(paragraph));
  } catch (problem) {
    sayWhy(problem);
  }
  save.disabled = false;
});

// The first letter of an answer, or B for a blank, chooses it and goes on to the next thing to fill in.
const keyOf = (radio) => (radio.value ? radio.value[0] : "b");

form?.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const box = event.target.closest("fieldset[data-field]");
  const wanted = box && [...box.querySelectorAll("input")].find((radio) => keyOf(radio) === event.key.toLowerCase());
  if (wanted && event.repeat) return; // a key held down answers one item
  if (wanted) wanted.checked = true;
  // Enter goes on as well, from wherever; only the button puts the sheet on record.
  else if (event.key !== "Enter" || !event.target.matches("input")) return;
  event.preventDefault();
  const stops = [...form.querySelectorAll("fieldset[data-field], input[data-field], #serial, #entry-save")];
  const next = stops[stops.indexOf(box ?? event.target) + 1] ?? stops[0];
  (next.matches("fieldset") ? next.querySelector("input:checked") ?? next.querySelector("input") : next).focus();
});
