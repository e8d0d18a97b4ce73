// Putting a doubt on the page. Text goes in as text, never as markup: some of it was written by strangers' pens.

const $ = (id) => document.getElementById(id);
const LONG_READING = 16; // characters that fit beside the button in the largest type

const pictures = new Map(); // by address; what is on its way or here

function picture(url) {
  if (!pictures.has(url)) {
    const image = new Image();
    image.decoding = "sync"; // it is decoded before it is shown; the doubt and its ink come in one frame
    image.src = url;
    image.alt = "";
    pictures.set(url, image);
  }
  return pictures.get(url);
}

/** Begins to fetch what a doubt's pictures need, and forgets those of doubts that are gone. */
export function fetchPictures(doubts) {
  const wanted = new Set(doubts.flatMap((d) => [d.ink?.url, pageUrl(d)]).filter(Boolean));
  for (const url of wanted) picture(url).decode().catch(() => pictures.delete(url));
  for (const url of pictures.keys()) if (!wanted.has(url)) pictures.delete(url);
}

const pageUrl = (doubt) => `${doubt.page_url}?high=1200`;

/** Shows a doubt; `choose(value)` is called when somebody picks a reading or an answer by its button. */
export function showDoubt(doubt, choose) {
  $("safety").hidden = !doubt.critical;
  $("name").textContent = doubt.title;
  $("where").textContent = [`Sheet ${doubt.number}`, doubt.unit, doubt.date, doubt.source].filter(Boolean).join(" · ");
  $("why").textContent = doubt.spot_check
    ? "A spot check: the machine was sure. Say what the paper says; what it read comes after."
    : doubt.reasons.join(" ");
  $("reading-row").hidden = doubt.spot_check;
  $("reading").textContent = doubt.reading?.words ?? "";
  $("reading").classList.toggle("nothing", doubt.reading?.value === null);
  $("reading").classList.toggle("long", $("reading").textContent.length > LONG_READING);
  buttons($("others"), doubt.alternatives.map((a, n) => [String(n + 1), `${a.words} (${percent(a.share)})`, a.value]), choose);
  buttons($("answers"), doubt.answers.map((a) => [a.key.toUpperCase(), a.words, a.value]), choose);
  $("typing").hidden = doubt.answers.length > 0;
  $("typed").value = "";
  $("meant").textContent = "";
  showInk(doubt);
  showPage(doubt, $("page"), $("outline"), pageUrl(doubt));
  document.querySelector(".doubt").dataset.ref = doubt.ref;
}

/** The whole page in a window of its own. */
export function showLarge(doubt) {
  showPage(doubt, $("large-page"), $("large-outline"), `${doubt.page_url}?high=2600`);
  $("large").showModal();
  const middle = doubt.corners ? doubt.corners.reduce((sum, [, y]) => sum + y / 4, 0) : 0;
  $("large").scrollTop = middle * $("large-page").clientHeight - $("large").clientHeight / 2;
}

function showInk(doubt) {
  const frame = $("ink");
  frame.hidden = !doubt.ink;
  $("no-ink").hidden = Boolean(doubt.ink);
  frame.querySelector("img")?.remove();
  if (!doubt.ink) return;
  const { left, top, width, height, aspect, url } = doubt.ink;
  const image = picture(url);
  image.alt = `The ink of ${doubt.title}`;
  frame.prepend(image);
  frame.style.setProperty("--aspect", aspect);
  Object.assign($("field-mark").style, { left: pct(left), top: pct(top), width: pct(width), height: pct(height) });
  const captions = doubt.typed_as === "choice" && doubt.answers.length === 3 && width * aspect > 2 * height ? doubt.answers : [];
  $("captions").replaceChildren(...captions.map((a) => Object.assign(document.createElement("span"), { textContent: a.words })));
  Object.assign($("captions").style, { left: pct(left), width: pct(width), top: pct(top + height) });
}

function showPage(doubt, frame, outline, url) {
  frame.querySelector("img")?.remove();
  const image = url.endsWith("=1200") ? picture(url) : Object.assign(new Image(), { src: url });
  image.alt = `Sheet ${doubt.number}; the field is outlined`;
  frame.prepend(image);
  frame.style.aspectRatio = doubt.page_aspect;
  outline.setAttribute("points", (doubt.corners ?? []).map(([x, y]) => `${x},${y}`).join(" "));
}

function buttons(group, rows, choose) {
  group.hidden = rows.length === 0;
  group.replaceChildren(
    ...rows.map(([key, words, value]) => {
      const button = document.createElement("button");
      const cap = document.createElement("kbd");
      cap.textContent = key;
      button.append(cap, ` ${words}`);
      button.addEventListener("click", () => choose(value));
      return button;
    }),
  );
}

const pct = (share) => `${100 * share}%`;
const percent = (share) => (share < 0.01 ? "under 1 %" : `${Math.round(100 * share)} %`);
