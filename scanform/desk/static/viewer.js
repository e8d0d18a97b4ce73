// A page as scanned, to look at closely: closer, farther, drag, pinch, turn, and on to one field's ink.

const CLOSEST = 12; // times: beyond this ink turns into fog
const FINE_FROM = 1.5; // times: from here on the coarse picture shows its grain

export function viewer(root, onPress) {
  const svg = root.querySelector("svg");
  const turned = svg.querySelector(".turned");
  const image = svg.querySelector("image");
  const size = { w: Number(root.dataset.width), h: Number(root.dataset.height) };
  const pointers = new Map();
  let turns = 0;
  let view = whole();
  let seesWhole = true;
  let moved = false;
  let printing = false;

  function full() {
    return turns % 2 ? { w: size.h, h: size.w } : size;
  }

  // Height by width of the room there is, so that what is seen fills it.
  function shape() {
    const pane = svg.getBoundingClientRect();
    return pane.width && pane.height ? pane.height / pane.width : 1;
  }

  function whole() {
    const all = full();
    const w = Math.max(all.w, all.h / shape());
    return { x: (all.w - w) / 2, y: (all.h - w * shape()) / 2, w, h: w * shape() };
  }

  // Where a length of the view begins so that no more than needed lies beside the page.
  function begin(middle, length, all) {
    return length >= all ? (all - length) / 2 : Math.min(Math.max(middle - length / 2, 0), all - length);
  }

  function show(next) {
    const all = full();
    const most = whole();
    const w = Math.min(Math.max(next.w, all.w / CLOSEST), most.w);
    const h = w * shape();
    view = { x: begin(next.x + next.w / 2, w, all.w), y: begin(next.y + next.h / 2, h, all.h), w, h };
    seesWhole = w === most.w;
    svg.setAttribute("viewBox", `${view.x} ${view.y} ${view.w} ${view.h}`);
    if (all.w / view.w > FINE_FROM && image.dataset.fine) {
      image.setAttribute("href", image.dataset.fine);
      delete image.dataset.fine;
    }
  }

  function zoom(times, at = { x: view.x + view.w / 2, y: view.y + view.h / 2 }) {
    const w = view.w / times;
    const h = view.h / times;
    show({ x: at.x - ((at.x - view.x) * w) / view.w, y: at.y - ((at.y - view.y) * h) / view.h, w, h });
  }

  function onPage(event) {
    const point = new DOMPoint(event.clientX, event.clientY);
    return point.matrixTransform(svg.getScreenCTM().inverse());
  }

  function showField(fieldId) {
    for (const outline of svg.querySelectorAll(".outline")) {
      outline.classList.toggle("chosen", outline.dataset.field === fieldId);
    }
    const outline = svg.querySelector(`.outline[data-field="${CSS.escape(fieldId)}"]`);
    if (!outline) return false;
    const [x, y, w, h] = outline.dataset.box.split(" ").map(Number);
    const wide = Math.max(w * 1.25, (h * 3) / shape(), size.w * 0.3);
    const high = wide * shape();
    show({ x: x + w / 2 - wide / 2, y: y + h / 2 - high / 2, w: wide, h: high });
    return true;
  }

  function turn() {
    turns = (turns + 1) % 4;
    const shift = ["", `translate(${size.h} 0)`, `translate(${size.w} ${size.h})`, `translate(0 ${size.w})`][turns];
    turned.setAttribute("transform", `${shift} rotate(${turns * 90})`);
    show(whole());
  }

  svg.addEventListener("pointerdown", (event) => {
    pointers.set(event.pointerId, onPage(event));
    moved = pointers.size > 1;
  });
  svg.addEventListener("pointermove", (event) => {
    const from = pointers.get(event.pointerId);
    if (!from) return;
    const to = onPage(event);
    if (pointers.size === 1) {
      const far = (Math.hypot(to.x - from.x, to.y - from.y) * svg.getBoundingClientRect().width) / view.w;
      if (!moved && far < 6) return; // a finger is never quite still
      moved = true;
      svg.setPointerCapture(event.pointerId);
      show({ ...view, x: view.x + from.x - to.x, y: view.y + from.y - to.y });
      return;
    }
    const other = [...pointers].find(([id]) => id !== event.pointerId)[1];
    const before = Math.hypot(from.x - other.x, from.y - other.y);
    zoom(Math.max(Math.hypot(to.x - other.x, to.y - other.y), 1) / Math.max(before, 1), other);
    pointers.set(event.pointerId, onPage(event));
  });
  for (const kind of ["pointerup", "pointercancel"]) {
    svg.addEventListener(kind, (event) => {
      pointers.delete(event.pointerId);
    });
  }
  svg.addEventListener("click", (event) => {
    const outline = moved ? null : event.target.closest("[data-field]");
    moved = false;
    if (outline && onPress) onPress(outline.dataset.field);
  });
  svg.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(event.deltaY < 0 ? 1.2 : 1 / 1.2, onPage(event));
  }, { passive: false });
  svg.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: [-0.15, 0], ArrowRight: [0.15, 0], ArrowUp: [0, -0.15], ArrowDown: [0, 0.15] }[event.key];
    if (step) show({ ...view, x: view.x + step[0] * view.w, y: view.y + step[1] * view.h });
    else if (event.key === "+") zoom(1.4);
    else if (event.key === "-") zoom(1 / 1.4);
    else return;
    event.preventDefault();
  });
  const tools = { closer: () => zoom(1.4), farther: () => zoom(1 / 1.4), whole: () => show(whole()), turn };
  for (const button of root.querySelectorAll("[data-view]")) {
    button.addEventListener("click", tools[button.dataset.view]);
  }
  addEventListener("beforeprint", () => {
    printing = true;
    const all = full();
    svg.setAttribute("viewBox", `0 0 ${all.w} ${all.h}`); // paper has another shape than the screen
  });
  addEventListener("afterprint", () => {
    printing = false;
    show(whole());
  });
  show(whole());
  new ResizeObserver(() => printing || show(seesWhole ? whole() : view)).observe(svg);
  return { showField, showWhole: tools.whole };
}
