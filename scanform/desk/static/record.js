// What the pages of the record share: reading from the desk, sending a file, and a sentence for whatever goes wrong.
import { ask, Lost } from "./ask.js";

/** What the desk says at `path`. */
export const get = (path) => ask(path, undefined, { method: "GET" });

/** Takes something back. */
export const remove = (path) => ask(path, undefined, { method: "DELETE" });

/** Sends one file; a large one may take as long as it takes. */
export const put = (path, file) =>
  ask(path, null, {
    method: "PUT",
    body: file,
    headers: { "Content-Type": "application/octet-stream" },
    signal: undefined,
  });

/** Puts what went wrong into `place`; for somebody who is signed out, with a way back in that leaves this page as it is. */
export function tell(place, problem) {
  place.textContent = sentence(problem);
  if (problem.status !== 401) return;
  const link = Object.assign(document.createElement("a"), { href: "/sign-in", target: "_blank", rel: "noopener", textContent: "Sign in in a new tab" });
  place.append(" ", link, ", then come back here and do it again: nothing on this page is lost.");
}

export function sentence(problem) {
  return problem instanceof Lost
    ? "The desk does not answer, so this was not saved. What was saved before is safe; try again once it is back."
    : problem.message;
}
