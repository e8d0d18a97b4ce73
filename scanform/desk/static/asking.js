// One way of asking the desk for something: with the session's token, and a sentence whenever it does not work.

export class Refused extends Error {}

export async function ask(path, { method = "GET", json, body, signal } = {}) {
  const headers = { Accept: "application/json" };
  if (method !== "GET") headers["X-Desk-Token"] = document.body.dataset.token;
  if (json !== undefined) headers["Content-Type"] = "application/json";
  let answer;
  try {
    answer = await fetch(path, { method, headers, signal, body: json === undefined ? body : JSON.stringify(json) });
  } catch (problem) {
    if (problem.name === "AbortError") throw problem;
    throw new Refused("The desk does not answer, so this was not saved. What was saved before is safe; try again once it is back.");
  }
  const said = await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Refused(said.said || "The desk could not do this; nothing was saved. Try again.");
  return said;
}
