// A question before a step is taken: one at a time, Enter says yes and Esc says no.

const $ = (id) => document.getElementById(id);
let step = null; // what is done if the answer is yes

/** Whether a question is on the page. */
export const inQuestion = () => step !== null;

/** Asks; `yes` and `no` are the words on the buttons, `then` is done on a yes. */
export function askWhether(asks, [yes, no], then) {
  step = then;
  $("asked").textContent = asks;
  $("yes-says").textContent = yes;
  $("no-says").textContent = no;
  $("question").hidden = false;
  document.querySelector(".says").classList.add("asking");
  $("yes").focus();
}

export function sayYes() {
  step?.();
}

/** Takes the question off the page. */
export function withdraw() {
  step = null;
  $("question").hidden = true;
  document.querySelector(".says").classList.remove("asking");
}
