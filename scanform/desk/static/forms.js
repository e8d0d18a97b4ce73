// Forms of old paper: a blank is dropped, its fields are proposed, and the editor opens.
import { ask } from "./ask.js";
import { takeFiles } from "./dropping.js";
import { put, remove, sentence } from "./record.js";

const drop = document.querySelector("#drop");
const sending = document.querySelector("#sending");
const refused = document.querySelector("#drop-said");
const ONE_GIB = 1 << 30;
let busy = false;

async function send(files) {
  if (busy || !files.length) return;
  busy = true;
  refused.hidden = true;
  try {
    if (files.length > 1) throw new Error("Drop one blank at a time: each form becomes a template of its own.");
    if (files[0].size > ONE_GIB) throw new Error(`${files[0].name} is too large for a blank form; nothing was sent.`);
    sending.textContent = `Looking for the fields of ${files[0].name}. A scan takes a little longer than a PDF.`;
    const { stack } = await ask("/batches/stacks", {});
    await put(`/batches/stacks/${stack}/files?name=${encodeURIComponent(files[0].name)}`, files[0]);
    const page = Number(document.querySelector("#page").value) || null;
    const printedAnew = document.querySelector("#printed-anew")?.value || null;
    const { draft } = await ask("/forms/drafts", { stack, page, printed_anew: printedAnew }, { signal: undefined });
    location.href = `/forms/drafts/${draft}`;
    return;
  } catch (problem) {
    sending.textContent = "";
    refused.textContent = sentence(problem);
    refused.hidden = false;
  }
  busy = false;
}

takeFiles(drop, send);

for (const button of document.querySelectorAll("[data-drop]")) {
  button.addEventListener("click", async () => {
    if (!button.dataset.asked) {
      button.dataset.asked = "yes";
      button.textContent = "Press once more to drop it for good";
      return;
    }
    try {
      await remove(button.dataset.drop);
      location.reload();
    } catch (problem) {
      refused.textContent = sentence(problem);
      refused.hidden = false;
    }
  });
}
