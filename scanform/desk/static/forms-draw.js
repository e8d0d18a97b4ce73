// The blank with its fields drawn on it. A kind is told by its shape and a word, never by colour alone.
import { around, boxesOf, KINDS } from "./forms-geometry.js";

const NS = "http://www.w3.org/2000/svg";
const HANDLE_MM = 2;

function made(name, attributes, text) {
  const element = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== undefined) element.textContent = text;
  return element;
}

/** The shape of a kind in a box: a few lines beside its outline tell it from the others. */
function shapeIn(kind, [x, y, w, h]) {
  const outline = kind === "circle"
    ? made("ellipse", { cx: x + w / 2, cy: y + h / 2, rx: w / 2, ry: h / 2, class: "outline" })
    : made("rect", { x, y, width: w, height: h, rx: kind === "mark" ? Math.min(w, h) / 2.5 : 0, class: "outline" });
  const sign = {
    text: `M${x + 0.6} ${y + h - 0.7}H${x + w - 0.6}`,
    choice: corner(x, y, w, h),
    decision: corner(x, y, w, h),
    signature: `M${x + 1} ${y + h - 1}q1.5 -3 3 0t3 0t3 0t3 0`,
    date: `M${x + w * 0.33} ${y + h - 1.6}v1.2M${x + w * 0.66} ${y + h - 1.6}v1.2`,
    number: `M${x + w - 3} ${y + h - 1}h2.2M${x + w - 3} ${y + h - 2}h2.2`,
  }[kind];
  return sign ? [outline, made("path", { d: sign, class: "sign" })] : [outline];
}

// A cut corner and no tick: nobody is to take the form for a filled one.
function corner(x, y, w, h) {
  const s = Math.min(w, h) * 0.35;
  return `M${x + w - s} ${y}l${s} ${s}`;
}

/** A small picture of a kind's shape, for the list. */
export function icon(kind) {
  const svg = made("svg", { viewBox: "0 0 16 10", class: `icon field kind-${kind}`, "aria-hidden": "true" });
  const boxes = kind === "comb" ? [[1, 1, 4.6, 8], [5.6, 1, 4.6, 8], [10.2, 1, 4.6, 8]] : [[1, 1, 14, 8]];
  svg.append(...boxes.flatMap((box) => shapeIn(kind, ["choice", "decision", "mark"].includes(kind) ? [4, 1, 8, 8] : box)));
  return svg;
}

/** What a field is called where one cannot see it. */
export function inWords(field, n) {
  const box = around(boxesOf(field));
  const place = box ? `at ${box[0]}, ${box[1]}, ${box[2]} wide, ${box[3]} high, in mm` : "without a place";
  return `${n + 1}, ${field.label || field.id}, ${KINDS[field.kind]}, ${place}`;
}

/** Draws into `svg`; gives `show(state, trouble)`. `page`: {width, height, blank}, in mm. */
export function drawing(svg, page) {
  svg.setAttribute("viewBox", `0 0 ${page.width} ${page.height}`);
  svg.append(made("image", { href: page.blank, width: page.width, height: page.height }));
  const layer = svg.appendChild(made("g", {}));
  const above = svg.appendChild(made("g", {}));
  let groups = [];

  function show({ form, chosen, part }, trouble, mayEdit) {
    while (groups.length > form.fields.length) groups.pop().remove();
    while (groups.length < form.fields.length) groups.push(layer.appendChild(made("g", { tabindex: 0, role: "button" })));
    form.fields.forEach((field, n) => {
      const group = groups[n];
      const boxes = boxesOf(field);
      group.setAttribute("class", `field kind-${field.kind}${n === chosen ? " chosen" : ""}${trouble(n) ? " trouble" : ""}`);
      group.setAttribute("aria-label", inWords(field, n));
      group.setAttribute("aria-pressed", n === chosen);
      group.dataset.n = n;
      group.replaceChildren(...boxes.flatMap((box, k) => shapeIn(field.kind, box).map((shape) => {
        shape.dataset.part = k;
        return shape;
      })), ...label(field, n, n === chosen, trouble(n), boxes));
    });
    above.replaceChildren(...(mayEdit && form.fields[chosen] ? handle(form.fields[chosen], part) : []));
  }

  function label(field, n, isChosen, inTrouble, boxes) {
    const days = field.id.split(".").length > 2; // a grid's cells: numbers would cover them
    if (!boxes.length || (days && !isChosen && !inTrouble)) return [];
    const [x, y, w, h] = boxes[0];
    const small = w < 12;
    const words = `${n + 1}${inTrouble ? "?" : ""}`;
    return [small
      ? made("text", { x: x - 0.6, y: y + h / 2 + 1, "text-anchor": "end", class: "number" }, words)
      : made("text", { x: x + 0.6, y: y + 2.6, class: "number" }, words)];
  }

  function handle(field, part) {
    const boxes = boxesOf(field);
    const box = part === null ? around(boxes) : boxes[part];
    if (!box) return [];
    const [x, y, w, h] = box;
    return [
      made("rect", { x: x - 0.6, y: y - 0.6, width: w + 1.2, height: h + 1.2, class: "frame" }),
      made("rect", { x: x + w - HANDLE_MM / 2, y: y + h - HANDLE_MM / 2, width: HANDLE_MM, height: HANDLE_MM, class: "handle" }),
      made("rect", { x: x + w - HANDLE_MM / 2, y: y + h - HANDLE_MM / 2, width: HANDLE_MM, height: HANDLE_MM, class: "handle grip" }),
    ];
  }

  function atMm(event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    return [point.x, point.y];
  }

  return { show, atMm, group: (n) => groups[n] };
}
