// Asking the desk. Nothing is kept back to be sent later: what got no answer is not saved, and the page says so.

const PATIENCE_MS = 15000;

/** The desk gave no answer at all. */
export class Lost extends Error {}

/** The desk answered that it did not do it. `status` is HTTP's, `answer` all that it answered. */
export class Refused extends Error {
  constructor(answer, status) {
    super(answer.said);
    this.answer = answer;
    this.status = status;
  }
}

/**
 * Sends `body` to `path`; gives what the desk answers, null where it answers nothing, the address where it sends the
 * person on. Throws Lost or Refused.
 */
export async function ask(path, body, more = {}) {
  let answer = await sent(path, body, more);
  if (answer.status === 403 && (await isBack())) answer = await sent(path, body, more);
  if (answer.status === 204) return null;
  if (answer.redirected) return answer.url;
  const said = await answer.json().catch(() => ({ said: "The desk gave an answer that makes no sense; nothing was counted as saved." }));
  if (!answer.ok) throw new Refused(said, answer.status);
  return said;
}

async function sent(path, body, { headers, ...more }) {
  const always = { Accept: "application/json", "X-Desk-Token": document.body.dataset.token };
  try {
    return await fetch(path, {
      method: "POST",
      headers: { "Content-Type": "application/json", ...headers, ...always },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(PATIENCE_MS),
      ...more,
    });
  } catch {
    throw new Lost();
  }
}

/** Whether the person of this page has signed in again since it was loaded; then it goes on under the new session. */
async function isBack() {
  const answer = await sent("/session", undefined, { method: "GET" });
  const now = answer.ok ? await answer.json() : {};
  const { dataset } = document.body;
  if (now.initials && now.initials !== dataset.initials) {
    throw new Refused({ said: `${now.initials} is signed in here by now, and this page is ${dataset.initials}'s: nothing was saved. Sign in as ${dataset.initials} to save it.` }, 403);
  }
  if (!now.token || now.token === dataset.token) return false;
  dataset.token = now.token;
  return true;
}
