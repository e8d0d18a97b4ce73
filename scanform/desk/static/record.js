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
    headers: { "X-Desk-Token": document.body.dataset.token, Accept: "application/json" },
    signal: undefined,
  });

export function sentence(problem) {
  return problem instanceof Lost
    ? "The desk does not answer, so this was not saved. What was saved before is safe; try again once it is back."
    : problem.message;
}
