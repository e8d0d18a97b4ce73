// Entering a sheet by hand: one answer after the other, checked once as a whole.
import { ask } from "./asking.js";
import { viewer } from "./viewer.js";

const root = document.querySelector(".viewer");
if (root) viewer(root);
const form = document.querySelector("#entry");
const asks = document.querySelector("#entry-asks");
let asked = "";

function values() {
  const found = {};
  for (const box of form.querySelectorAll("fieldset[data-field]")) {
    found[box.dataset.field] = box.querySelector("input:checked")?.value || null;
  }
  for (const input of form.querySelectorAll("input[data-field]")) found[input.dataset.field] = input.value.trim() || null;
  return found;
}

function say(sentences, question) {
  asks.replaceChildren(...sentences.map((said) => Object.assign(document.createElement("p"), { textContent: said })));
  if (question) asks.append(Object.assign(document.createElement("p"), { textContent: question }));
  asks.hidden = false;
  asks.scrollIntoView({ block: "center" });
}

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const save = form.querySelector("#entry-save");
  const entry = { form: form.dataset.form, serial: form.querySelector("#serial").value, values: values() };
  const same = JSON.stringify(entry) === asked;
  save.disabled = true;
  try {
    const answer = await ask(`/sheets/${form.dataset.number}/entry`, { method: "POST", json: { ...entry, sure: same } });
    if (!answer.asks.length) {
      location.assign(`/sheets/${answer.number}`);
      return;
    }
    asked = JSON.stringify(entry);
    say(answer.asks, "If the paper says so, press 'Put it on record' once more.");
  } catch (problem) {
    say([problem.message]);
  }
  save.disabled = false;
});

// 1, 2, 3 and 0 answer an item and go on to the next thing to fill in.
form?.addEventListener("keydown", (event) => {
  const box = event.target.closest("fieldset[data-field]");
  const radios = box ? [...box.querySelectorAll("input")] : [];
  const blank = radios.find((radio) => !radio.value || radio.value === "unsigned");
  const wanted = event.key === "0" ? blank : radios.filter((radio) => radio !== blank)[Number(event.key) - 1];
  if (!box || !wanted || event.ctrlKey || event.metaKey || event.altKey) {
    // Enter in a typed field goes on as well; only the button puts the sheet on record.
    if (event.key !== "Enter" || !event.target.matches("input")) return;
  } else {
    wanted.checked = true;
  }
  event.preventDefault();
  const stops = [...form.querySelectorAll("fieldset[data-field], input[data-field], #entry-save")];
  const next = stops[stops.indexOf(box ?? event.target) + 1] ?? stops[0];
  (next.matches("fieldset") ? next.querySelector("input:checked") ?? next.querySelector("input") : next).focus();
});
