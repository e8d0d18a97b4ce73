// A sheet: values on one side, ink on the other. A value shows its ink, ink shows its value; both can be corrected.
import { ask } from "./ask.js";
import { get, remove, sentence, tell } from "./record.js";
import { viewer } from "./viewer.js";

const place = document.querySelector("#sheet");
const told = document.querySelector("#told");
const mayCorrect = place.dataset.mayCorrect === "yes";
const lines = [...document.querySelectorAll(".line")];
const [root, ...others] = document.querySelectorAll(".viewer");
const picture = root && viewer(root, (fieldId) => open(lineOf(fieldId), true));
for (const other of others) viewer(other);

const undoing = document.querySelector("#undo");

const lineOf = (fieldId) => lines.find((line) => line.dataset.field === fieldId);
const button = (line) => line.querySelector(".line-button");

function open(line, scroll = false) {
  if (!line) return;
  for (const other of lines) if (other !== line) close(other);
  line.classList.add("chosen");
  button(line).setAttribute("aria-expanded", "true");
  picture?.showField(line.dataset.field);
  const opened = line.querySelector(".line-open");
  if (!opened.childElementCount) fill(line, opened);
  opened.hidden = false;
  line.scrollIntoView({ block: scroll ? "center" : "nearest" });
  button(line).focus({ preventScroll: true });
}

function close(line) {
  line.classList.remove("chosen");
  button(line).setAttribute("aria-expanded", "false");
  line.querySelector(".line-open").hidden = true;
}

function fill(line, opened) {
  opened.append(document.querySelector("#open-line").content.cloneNode(true));
  const form = opened.querySelector("form");
  if (!mayCorrect || line.dataset.elsewhere) form.remove();
  else prepare(line, form);
  showHistory(line, opened);
}

function prepare(line, form) {
  const answers = JSON.parse(line.dataset.answers);
  const box = form.querySelector(".correct-answers");
  const typed = form.querySelector(".correct-typed");
  const unseen = Boolean(line.dataset.hidden); // nobody is to be led by what the machine read
  for (const [value, words] of answers) {
    const label = document.createElement("label");
    label.className = "answer";
    const input = Object.assign(document.createElement("input"), {
      type: "radio", name: `answer ${line.dataset.field}`, value, checked: !unseen && value === line.dataset.typed,
    });
    label.append(input, ` ${words}`);
    box.append(label);
  }
  (answers.length ? typed : box).remove();
  if (!answers.length) typed.querySelector("input").value = line.dataset.typed;
  const said = () => (answers.length ? form.querySelector("input:checked")?.value ?? "" : typed.querySelector("input").value);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const chosen = answers.length ? form.querySelector("input:checked") : said();
    if (unseen && !chosen) line.querySelector(".line-said").textContent = "Say what the paper says first.";
    else save(line, said());
  });
  const [right, blank] = ["[data-right]", "[data-blank]"].map((which) => form.querySelector(which));
  right.addEventListener("click", () => save(line, line.dataset.typed));
  blank.addEventListener("click", () => save(line, ""));
  (unseen ? right : blank).remove();
  if (unseen && answers.length) blank.remove(); // one of the answers says so
}

async function save(line, value) {
  const refused = line.querySelector(".line-said");
  const buttons = line.querySelectorAll(".correct button");
  for (const one of buttons) one.disabled = true;
  try {
    const path = `/sheets/${place.dataset.number}/fields/${encodeURIComponent(line.dataset.field)}`;
    const sure = line.dataset.asked === value;
    const { now, filed, asks, note } = await ask(path, { value: value || null, seen: Number(line.dataset.seen), sure });
    if (asks) {
      line.dataset.asked = value;
      refused.textContent = `${asks} If the paper says so, save it once more.`;
      return;
    }
    delete line.dataset.asked;
    refused.textContent = "";
    show(line, now, filed);
    told.textContent = `${now.title}: ${now.words}, ${now.state_words}. ${note}`.trim();
    button(line).focus();
  } catch (problem) {
    if (problem.answer?.now) showOthers(line, problem, value);
    else tell(refused, problem);
  } finally {
    for (const one of buttons) one.disabled = false;
  }
}

/** Somebody was first: the line as they left it, with what this person said beside it, to be looked at again. */
function showOthers(line, { answer, message }, value) {
  show(line, answer.now, answer.filed);
  line.querySelector(".line-said").textContent = `${message} You had said: ${value ? `“${value}”` : "nothing written"}.`;
}

let undone = true; // what was to be taken back last is

async function undo() {
  if (!undone) return;
  undone = false;
  try {
    const { said, now, filed } = await ask(`/sheets/${place.dataset.number}/undo`, {});
    const line = lineOf(now.field_id);
    show(line, now, filed);
    open(line, true);
    told.textContent = said;
  } catch (problem) {
    tell(told, problem);
  } finally {
    undone = true;
  }
}

function showFiled({ heading, unit }) {
  document.querySelector("#heading").textContent = heading;
  document.title = [heading, ...document.title.split(" · ").slice(1)].join(" · ");
  const allOf = document.querySelector("#all-of");
  allOf.hidden = !unit;
  Object.assign(allOf.querySelector("a"), { href: `/sheets?unit=${encodeURIComponent(unit ?? "")}`, textContent: `all of ${unit}` });
}

function show(line, now, filed) {
  showFiled(filed);
  for (const name of ["seen", "typed"]) line.dataset[name] = now[name];
  for (const name of ["hidden", "elsewhere"]) {
    if (now[name]) line.dataset[name] = "yes";
    else delete line.dataset[name];
  }
  delete line.dataset.asked;
  button(line).className = `line-button line-${now.state}`;
  line.querySelector(".line-words").textContent = now.words;
  const state = line.querySelector(".state");
  state.className = `state state-${now.state}`;
  state.title = now.state_words;
  line.querySelector(".line-sign").textContent = now.sign;
  line.querySelector(".line-state").textContent = now.state_words;
  const reasons = now.reasons.map((reason) => Object.assign(document.createElement("li"), { textContent: reason }));
  line.querySelector(".line-reasons").replaceChildren(...reasons);
  const opened = line.querySelector(".line-open");
  opened.replaceChildren(); // what can be said of it may be something else now
  if (!opened.hidden) fill(line, opened);
  count();
  const outline = root?.querySelector(`.outline[data-field="${CSS.escape(now.field_id)}"]`);
  outline?.setAttribute("class", `outline outline-${now.state} chosen`);
}

function count() {
  for (const counted of document.querySelectorAll("[data-count]")) {
    const n = document.querySelectorAll(`.line-button.line-${counted.dataset.count}`).length;
    counted.children[1].textContent = n;
    counted.hidden = n === 0;
  }
}

async function showHistory(line, opened) {
  const list = opened.querySelector(".history");
  try {
    const path = `/sheets/${place.dataset.number}/fields/${encodeURIComponent(line.dataset.field)}/history`;
    const past = await get(path);
    list.replaceChildren(...past.map((event) => {
      const entry = document.createElement("li");
      const when = Object.assign(document.createElement("time"), {
        dateTime: event.at, textContent: localTime(new Date(event.at)),
      });
      const what = document.createElement(event.stands ? "span" : "s");
      what.textContent = event.what;
      entry.append(when, ` ${event.who} `, what, event.stands ? "" : " (taken back)");
      return entry;
    }));
  } catch (problem) {
    const entry = Object.assign(document.createElement("li"), { textContent: sentence(problem) });
    list.replaceChildren(entry);
  }
}

function localTime(moment) {
  const two = (n) => String(n).padStart(2, "0");
  const day = `${moment.getFullYear()}-${two(moment.getMonth() + 1)}-${two(moment.getDate())}`;
  return `${day} ${two(moment.getHours())}:${two(moment.getMinutes())}`;
}

for (const line of lines) {
  button(line).addEventListener("click", () => {
    if (line.classList.contains("chosen")) close(line);
    else open(line);
  });
  button(line).addEventListener("focus", () => picture?.showField(line.dataset.field));
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.repeat && !event.key.startsWith("Arrow")) return; // a key held down says it once
  const line = event.target.closest?.(".line");
  if (event.key === "Escape" && line) {
    close(line);
    button(line).focus();
  } else if (event.target.matches?.("input, select, textarea")) {
    return;
  } else if (event.key === "w" || event.key === "W") {
    picture?.showWhole();
  } else if ((event.key === "z" || event.key === "Z") && undoing) {
    undo();
  } else if ((event.key === "ArrowDown" || event.key === "ArrowUp") && (line || event.target === document.body)) {
    const at = lines.indexOf(line) + (event.key === "ArrowDown" ? 1 : -1);
    if (lines[at]) button(lines[at]).focus();
    event.preventDefault();
  }
});

undoing?.addEventListener("click", undo);

document.querySelector("#void")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  try {
    await ask(`/sheets/${place.dataset.number}/void`, { why: new FormData(event.target).get("why") });
    location.reload();
  } catch (problem) {
    tell(told, problem);
  }
});

document.querySelector("[data-take-back]")?.addEventListener("click", async (event) => {
  const pressed = event.target;
  if (!pressed.dataset.asked) {
    pressed.dataset.asked = "yes";
    pressed.textContent = `Press once more: ${pressed.textContent.toLowerCase()}`;
    return;
  }
  try {
    await remove(pressed.dataset.takeBack);
    location.reload();
  } catch (problem) {
    tell(told, problem);
  }
});
