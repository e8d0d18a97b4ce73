// A first look: a few filled pages read with the form as it is now, each value beside its ink.
import { ask } from "./ask.js";
import { put, sentence } from "./record.js";

const NS = "http://www.w3.org/2000/svg";
const BESIDE = 0.35; // of a field's height shows around its ink
const $ = (selector) => document.querySelector(selector);

/** Binds the choosing of pages. `settled()`: keeps what is not kept yet, and says whether it could. */
export function trying(data, settled, labelOf) {
  const input = $("#pages");
  if (!input) return;
  input.addEventListener("change", async () => {
    const files = [...input.files];
    input.value = "";
    if (!files.length) return;
    try {
      if (files.length > data.mostTried) throw new Error(`These are ${files.length} files, and up to ${data.mostTried} pages are tried at once.`);
      if (files.some((file) => file.size > data.mostBytes)) throw new Error("One of these files is too large.");
      if (!(await settled())) return;
      const { stack } = await ask("/batches/stacks", {});
      for (const file of files) {
        $("#trying").textContent = `Sending ${file.name}`;
        await put(`/batches/stacks/${stack}/files?name=${encodeURIComponent(file.name)}`, file);
      }
      $("#trying").textContent = "Reading these pages; a few seconds each.";
      show(await ask(`/forms/drafts/${data.draft}/tries`, { stack }, { signal: undefined }), labelOf);
      $("#trying").textContent = "Read. Nothing of it is on record.";
    } catch (problem) {
      $("#trying").textContent = sentence(problem);
    }
  });
  $("#tried-close").addEventListener("click", () => {
    $("#tried").hidden = true;
    $("#try summary").focus();
  });
}

function show({ pages, more }, labelOf) {
  const now = Date.now(); // a browser keeps pictures by their address, and the next try has others at the same
  const parts = pages.map((page) => {
    page.picture += `?${now}`;
    const section = document.createElement("section");
    const doubts = page.fields.filter((field) => field.state === "doubtful").length;
    section.append(made("h3", page.title));
    if (page.fields.length) section.append(made("p", `${page.fields.length} fields read, ${doubts} of them doubtful.`));
    if (page.said) section.append(made("p", page.said, "asks"));
    if (page.fields.length) section.append(table(page, labelOf));
    return section;
  });
  if (more) parts.push(made("p", `${more} more pages were left out; up to ${pages.length} are tried at once.`, "hint"));
  $("#tried-pages").replaceChildren(...parts);
  $("#tried").hidden = false;
  $("#tried").focus();
  $("#tried").scrollIntoView();
}

function table(page, labelOf) {
  const rows = page.fields.map((field) => {
    const row = document.createElement("tr");
    const head = made("th", labelOf(field.id));
    head.scope = "row";
    const state = document.createElement("td");
    const words = made("span", "", `state state-${field.state}`);
    const sign = made("span", field.sign);
    sign.ariaHidden = "true";
    words.append(sign, ` ${field.state_words}`);
    state.append(words, made("span", field.reasons.length ? ` ${field.reasons.join("; ")}` : "", "hint"));
    const seen = document.createElement("td");
    if (field.box) seen.append(ink(page, field));
    row.append(head, made("td", field.words), state, seen);
    return row;
  });
  const list = document.createElement("table");
  list.innerHTML = '<thead><tr><th scope="col">Field</th><th scope="col">Value</th><th scope="col">State</th><th scope="col">Ink</th></tr></thead><tbody></tbody>';
  list.tBodies[0].append(...rows);
  return list;
}

function ink(page, field) {
  const [x, y, w, h] = field.box;
  const around = h * BESIDE;
  const svg = document.createElementNS(NS, "svg");
  svg.setAttribute("viewBox", `${x - around} ${y - around} ${w + 2 * around} ${h + 2 * around}`);
  svg.setAttribute("class", "tried-ink");
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", "The ink");
  const image = document.createElementNS(NS, "image");
  for (const [key, value] of Object.entries({ href: page.picture, width: page.width, height: page.height })) image.setAttribute(key, value);
  svg.append(image);
  return svg;
}

function made(name, text, className = "") {
  return Object.assign(document.createElement(name), { textContent: text, className });
}
