// Asking the desk. Nothing is kept back to be sent later: what got no answer is not saved, and the page says so.

const PATIENCE_MS = 15000;

/** The desk gave no answer at all. */
export class Lost extends Error {}

/** The desk answered that it did not do it. `status` is HTTP's. */
export class Refused extends Error {
  constructor(said, status) {
    super(said);
    this.status = status;
  }
}

/** Sends `body` to `path`; gives what the desk answers, null where it answers nothing. Throws Lost or Refused. */
export async function ask(path, body, more = {}) {
  let answer;
  try {
    answer = await fetch(path, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Desk-Token": document.body.dataset.token, Accept: "application/json" },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(PATIENCE_MS),
      ...more,
    });
  } catch {
    throw new Lost();
  }
  if (answer.status === 204) return null;
  const said = await answer.json().catch(() => ({ said: "The desk gave an answer that makes no sense; nothing was counted as saved." }));
  if (!answer.ok) throw new Refused(said.said, answer.status);
  return said;
}
