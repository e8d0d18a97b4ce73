// Keeping a form as a version: what is to be put right comes first, then, if nobody has said it, what keeps a person safe.
import { ask } from "./ask.js";
import { sentence } from "./record.js";

const $ = (selector) => document.querySelector(selector);

/** The check list's items, {name, words} each, in their order; the days of one are one. */
function itemsOf(fields) {
  const items = new Map();
  for (const field of fields) {
    const name = field.id.startsWith("item.") ? field.id.split(".")[1] : "";
    if (name && !items.has(name)) items.set(name, { name, words: field.label || field.id });
  }
  return [...items.values()];
}

/** Binds the button. `desk`: {state, draft, kept(), now() -> {rev, faults}, mark(names), say(text), lead(fault)}. */
export function saving(desk) {
  const button = $("#keep");
  const question = $("#safety");
  const none = $("#safety-none");

  const ticked = () => [...$("#safety-items").querySelectorAll("input:checked")].map((box) => box.value);
  const answerable = () => { $("#safety-save").disabled = !none.checked && !ticked().length; };

  async function save(safetyAsked) {
    if (!(await desk.kept())) return;
    const { rev, faults } = desk.now();
    if (faults.length) {
      desk.say(`${faults.length === 1 ? "One thing is" : `${faults.length} things are`} still to be put right: ${faults[0].said}`);
      return void desk.lead(faults[0]);
    }
    const items = itemsOf(desk.state.form.fields);
    if (!safetyAsked && items.length && !desk.state.form.fields.some((field) => field.critical)) return void put(items);
    try {
      button.disabled = true;
      location.href = (await ask(`/forms/drafts/${desk.draft}/version`, { rev, none_critical: safetyAsked && none.checked })).at;
    } catch (problem) {
      button.disabled = false;
      desk.say(sentence(problem));
    }
  }

  function put(items) {
    if (question.open) return; // pressed twice
    none.checked = false;
    $("#safety-items").replaceChildren(...items.map(({ name, words }) => {
      const box = Object.assign(document.createElement("input"), { type: "checkbox", value: name });
      const label = document.createElement("label");
      label.append(box, ` ${words}`);
      const line = document.createElement("li");
      line.append(label);
      return line;
    }));
    answerable();
    question.returnValue = "";
    question.showModal();
  }

  // One answer shuts out the other.
  question.addEventListener("change", (event) => {
    if (event.target === none && none.checked) for (const box of $("#safety-items").querySelectorAll("input")) box.checked = false;
    else if (event.target !== none && event.target.checked) none.checked = false;
    answerable();
  });
  question.addEventListener("close", () => {
    if (question.returnValue !== "save") return void button.focus();
    if (ticked().length) desk.mark(ticked());
    save(true);
  });
  button.addEventListener("click", () => save(false));
}
