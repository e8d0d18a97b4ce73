// Dropping scans, and watching them being read.
import { ask, Refused } from "./ask.js";
import { takeFiles } from "./dropping.js";
import { get, put, sentence } from "./record.js";

const PAUSE_MS = 700;
const LOST_MS = 5000;
const drop = document.querySelector("#drop");
const sending = document.querySelector("#sending");
const refused = document.querySelector("#drop-said");
const section = document.querySelector("#under-way");
const lost = document.querySelector("#lost");
const signedOut = document.querySelector("#signed-out");
let busy = false;

async function send(files) {
  if (busy || !files.length) return;
  busy = true;
  refused.hidden = true;
  let sent = 0;
  try {
    const most = Number(drop.dataset.mostFiles);
    if (files.length > most) throw new Error(`These are ${files.length} files and ${most} go at a time; nothing was sent.`);
    const large = files.find((file) => file.size > Number(drop.dataset.mostBytes));
    if (large) throw new Error(`${large.name} is too large; scan in smaller stacks. Nothing was sent.`);
    const { stack } = await ask("/batches/stacks", {});
    for (const file of files) {
      sending.textContent = `Sending ${sent + 1} of ${files.length}: ${file.name}`;
      await put(`/batches/stacks/${stack}/files?name=${encodeURIComponent(file.name)}`, file);
      sent += 1;
    }
    await ask(`/batches/stacks/${stack}/read`, {});
    sending.textContent = sent === 1 ? "1 file has arrived and is being read." : `${sent} files have arrived and are being read.`;
    look();
  } catch (problem) {
    sending.textContent = "";
    refused.textContent = sent && sent < files.length
      ? `${sentence(problem)} Of this stack nothing has been read yet; drop all ${files.length} files again.`
      : sentence(problem);
    refused.hidden = false;
  }
  busy = false;
}

if (drop) takeFiles(drop, send);

const TITLES = { waiting: "Waiting its turn", reading: "Being read", read: "Read", failed: "Stopped" };

function show(stack) {
  let article = document.getElementById(`stack-${stack.stack}`);
  if (!article) {
    article = document.querySelector("#stack").content.cloneNode(true).firstElementChild;
    article.id = `stack-${stack.stack}`;
    section.prepend(article);
    document.querySelector("#nothing")?.remove();
  }
  const put = (name, text) => {
    const element = article.querySelector(name);
    if (element.textContent !== text) element.textContent = text;
  };
  const more = stack.files.length > 3 ? ` and ${stack.files.length - 3} more` : "";
  put(".stack-title", `${TITLES[stack.stage]}: ${stack.files.slice(0, 3).join(", ")}${more}`);
  const bar = article.querySelector("progress");
  bar.max = stack.pages_in || 1;
  bar.value = stack.stage === "read" ? bar.max : stack.pages_done;
  bar.setAttribute("aria-label", "Pages read");
  put(".stack-count", stack.pages_in === null ? "" : `${stack.pages_done} of ${stack.pages_in} pages`);
  const words = stack.outcomes.map(([outcome, n]) => `${n} ${outcome}`);
  put(".stack-outcomes", [...words, doubtsOf(stack)].filter(Boolean).join(", "));
  put(".stack-said", stack.said);
  article.querySelector(".stack-said").classList.toggle("asks", Boolean(stack.said));
  const go = article.querySelector(".stack-go");
  if (stack.batch && !go.childElementCount) {
    go.append(Object.assign(document.createElement("a"), {
      href: `/batches/${stack.batch}`, className: "button", textContent: "See its balance",
    }));
  }
}

function doubtsOf({ doubts, stage }) {
  if (!doubts) return "";
  return `${doubts} ${doubts === 1 ? "doubt" : "doubts"}${stage === "reading" ? " so far" : ""}`;
}

let timer = null;

async function look() {
  clearTimeout(timer);
  let pause = 0; // nothing to wait for: asking on would keep somebody signed in who has left
  try {
    const stacks = await get("/batches/under-way");
    for (const stack of stacks.reverse()) {
      show(stack);
      if (stack.stage === "waiting" || stack.stage === "reading") pause = PAUSE_MS;
    }
    lost.hidden = true;
  } catch (problem) {
    const out = problem instanceof Refused && problem.status === 401;
    signedOut.hidden = !out;
    lost.hidden = out;
    pause = out ? 0 : LOST_MS;
  }
  if (pause) timer = setTimeout(look, pause);
}

addEventListener("online", look);
document.addEventListener("visibilitychange", () => {
  if (!document.hidden) look();
});
look();
