// Closing a defect: whatever goes wrong is said beside the form, and what was filled in stays in it.
import { ask } from "./ask.js";
import { tell } from "./record.js";

const form = document.querySelector(".closing");
const said = document.querySelector("#closing-said");
const filledIn = () => new URLSearchParams(new FormData(form)).toString();
let kept = form ? filledIn() : ""; // what leaving the page would not lose

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector("button");
  const sent = filledIn();
  button.disabled = true;
  try {
    const defect = await ask(form.action, null, { body: sent, headers: { "Content-Type": "application/x-www-form-urlencoded" } });
    kept = sent;
    location.assign(defect);
    return;
  } catch (problem) {
    tell(said, problem);
    said.hidden = false;
  }
  button.disabled = false;
});

addEventListener("beforeunload", (event) => {
  if (form && filledIn() !== kept) event.preventDefault();
});
