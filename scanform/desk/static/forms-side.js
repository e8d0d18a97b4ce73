// Beside the picture: the chosen field's entries, those of the form, and the legend.
import { addAnswer, around, boxesOf, cut, KINDS, move, placeOf, put, size, turnInto } from "./forms-geometry.js";

const USUAL = ["unit", "date", "hours", "operator", "site", "shift", "remarks.1", "signature", "item."];
const $ = (selector) => document.querySelector(selector);

/** Binds the entries. `desk`: {state, page, change(key, what), mayEdit}; gives `show(faults)`. */
export function side(desk) {
  const { state, page, change } = desk;
  const now = () => state.form.fields[state.chosen];
  const inItem = (field) => field.id.startsWith("item.");
  const siblings = (field) => state.form.fields.filter((f) => inItem(f) && f.id.split(".")[1] === field.id.split(".")[1]);

  for (const [kind, words] of Object.entries(KINDS)) $("#f-kind").append(new Option(words, kind));
  $("#usual").append(...USUAL.map((id) => new Option("", id)));
  const edited = (field) => { field.unsure = false; };

  for (const input of document.querySelectorAll("#side [data-key]")) {
    input.addEventListener("input", () => change(`${input.id} ${state.chosen}`, () => {
      const field = now();
      // An item's words and its stop of the walk are those of all its days.
      const of = ["label", "stage"].includes(input.dataset.key) && inItem(field) ? siblings(field) : [field];
      for (const one of of) one[input.dataset.key] = input.value;
      edited(field);
    }));
  }
  $("#f-kind").addEventListener("change", (event) => change(null, () => { turnInto(now(), event.target.value); state.part = null; }));
  $("#f-critical").addEventListener("change", () => desk.critical());
  $("#f-cells").addEventListener("change", (event) => {
    const n = Math.min(Math.max(Math.round(Number(event.target.value)) || 1, 1), 40);
    change(null, () => { now().cells_mm = cut(around(boxesOf(now())), n); edited(now()); state.part = null; });
  });
  // A number is typed digit by digit: what it means is measured from where the field was before the first.
  let typedFrom = null;
  for (const [at, key] of ["x", "y", "w", "h"].entries()) {
    const input = $(`#f-${key}`);
    input.addEventListener("focus", () => { typedFrom = now() && structuredClone(boxesOf(now())); });
    input.addEventListener("input", () => {
      if (!boxNow() || input.value === "" || !Number.isFinite(input.valueAsNumber)) return;
      change(`${input.id} ${state.chosen}`, () => {
        put(now(), structuredClone(typedFrom));
        const by = input.valueAsNumber - boxNow()[at];
        if (at < 2) move(now(), state.part, at ? 0 : by, at ? by : 0, page);
        else size(now(), state.part, at === 2 ? by : 0, at === 3 ? by : 0, page);
        edited(now());
      });
    });
    input.addEventListener("change", () => { input.value = boxNow()?.[at] ?? ""; }); // as far as the page has room for it
  }
  const boxNow = () => (state.part === null ? around(boxesOf(now())) : boxesOf(now())[state.part]);
  $("#answer-new").addEventListener("click", () => {
    change(null, () => addAnswer(now(), page));
    $("#answers p:last-child input").focus();
  });
  $("#side").addEventListener("submit", (event) => event.preventDefault());

  for (const input of document.querySelectorAll("#whole [data-key]")) {
    input.addEventListener("input", () => change(input.id, () => { state.form[input.dataset.key] = input.value; }));
  }
  $("#sign-new").addEventListener("click", () => {
    change(null, () => state.form.signs.push({ sign: "", answer: "", words: "" }));
    $("#signs tr:last-child input").focus();
  });

  function answers(field) {
    const box = $("#answers");
    rows(box, field.answers.length, (n) => {
      const row = Object.assign(document.createElement("p"), { className: "answer-row" });
      const input = entry(`Answer ${n + 1}`, "usual-answers", (value) => change(`answer ${state.chosen} ${n}`, () => { now().answers[n].answer = value; edited(now()); }));
      row.append(input, small("Its box", () => desk.choosePart(n)), small("Take out", () => change(null, () => { now().answers.splice(n, 1); state.part = null; })));
      return row;
    });
    field.answers.forEach((answer, n) => {
      set(box.children[n].querySelector("input"), answer.answer);
      box.children[n].classList.toggle("chosen", state.part === n);
    });
  }

  function signs() {
    const body = $("#signs");
    rows(body, state.form.signs.length, (n) => {
      const row = document.createElement("tr");
      for (const [key, words] of [["sign", "Sign"], ["answer", "Answer"], ["words", "Words"]]) {
        const input = entry(`${words} ${n + 1}`, key === "answer" ? "usual-answers" : "", (value) => change(`sign ${n} ${key}`, () => { state.form.signs[n][key] = value; }));
        input.dataset.key = key;
        row.insertCell().append(input);
      }
      row.insertCell().append(small("Take out", () => change(null, () => state.form.signs.splice(n, 1))));
      return row;
    });
    state.form.signs.forEach((sign, n) => {
      for (const input of body.children[n].querySelectorAll("input")) set(input, sign[input.dataset.key]);
    });
  }

  function show(faults) {
    const field = now();
    $("#side-field").hidden = !field;
    $("#side-title").textContent = field ? `Field ${state.chosen + 1}` : "No field is chosen";
    if (field) one(field);
    for (const input of document.querySelectorAll("#whole [data-key]")) set(input, state.form[input.dataset.key]);
    signs();
    said($("#field-said"), faults.filter((f) => f.part === "field" && f.at === state.chosen), "f-");
    said($("#whole-said"), faults.filter((f) => f.part === "form"), "w-");
    said($("#signs-said"), faults.filter((f) => f.part === "sign"), "s-");
  }

  function one(field) {
    for (const input of document.querySelectorAll("#side [data-key]")) set(input, field[input.dataset.key]);
    $("#f-kind").value = field.kind;
    $("#f-critical").checked = field.critical;
    set($("#f-cells"), field.cells_mm.length);
    const box = boxNow();
    ["x", "y", "w", "h"].forEach((key, at) => set($(`#f-${key}`), box ? box[at] : ""));
    $("#place-title").textContent = state.part === null ? "Place, in mm" : `Place of box ${state.part + 1}, in mm`;
    for (const part of document.querySelectorAll(".for-item")) part.hidden = !inItem(field);
    for (const part of document.querySelectorAll(".for-comb")) part.hidden = field.kind !== "comb";
    for (const part of document.querySelectorAll(".for-pattern")) part.hidden = !["comb", "date", "number"].includes(field.kind);
    $(".for-answers").hidden = placeOf(field.kind) !== "answers";
    answers(placeOf(field.kind) === "answers" ? field : { answers: [] });
    $("#right").hidden = !field.unsure && !desk.offPrint(state.chosen);
  }

  return { show };
}

function rows(box, count, make) {
  while (box.children.length > count) box.lastElementChild.remove();
  while (box.children.length < count) box.append(make(box.children.length));
}

function entry(words, list, onInput) {
  const input = Object.assign(document.createElement("input"), { ariaLabel: words, spellcheck: false });
  if (list) input.setAttribute("list", list);
  input.addEventListener("input", () => onInput(input.value));
  return input;
}

function small(words, onClick) {
  const button = Object.assign(document.createElement("button"), { type: "button", className: "small", textContent: words });
  button.addEventListener("click", onClick);
  return button;
}

// What is being typed stays as it is typed.
function set(input, value) {
  if (input !== document.activeElement && input.value !== String(value)) input.value = value;
  if (input === document.activeElement && input.type !== "number" && input.value !== String(value)) input.value = value;
}

function said(place, faults, prefix) {
  const text = faults.map((fault) => fault.said).join(" ");
  if (place.textContent !== text) place.textContent = text;
  const wrong = new Set(faults.map((fault) => prefix + fault.key));
  const inputs = document.querySelectorAll(`[id^="${prefix}"]`);
  for (const input of inputs) {
    if (wrong.has(input.id)) {
      input.setAttribute("aria-invalid", "true");
      input.setAttribute("aria-describedby", place.id);
      input.closest("p").after(place); // beside the entry that it is about
    } else input.removeAttribute("aria-invalid");
  }
}
