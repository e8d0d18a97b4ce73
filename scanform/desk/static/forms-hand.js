// The mouse, a finger or a pen on the picture. The mouse moves what it presses and draws on empty paper. A finger is
// mostly there to see more of the page: it moves only the field that was chosen before, and draws nothing.
import { boxesOf, move, round, size } from "./forms-geometry.js";

const LEAST_MOVED_MM = 0.5;
const LEAST_DRAWN_MM = 2; // less is a press, not a new field
const FINGER_PX = 8; // a finger that presses rolls by so much; common practice
const nameOf = (field) => field.label || field.id;

/** Binds the picture. `desk`: {state, page, picture, change, choose, choosePart, add, mayEdit, someChosen()}. */
export function hand(sheet, desk) {
  const { state, page, picture, change, choose, mayEdit } = desk;
  const chosen = () => state.form.fields[state.chosen];
  let drag = null;

  sheet.addEventListener("focusin", (event) => {
    const group = event.target.closest(".field");
    if (group && !drag && Number(group.dataset.n) !== state.chosen) choose(Number(group.dataset.n), null, "");
  });

  sheet.addEventListener("pointerdown", (event) => {
    if (event.button || !event.isPrimary) return;
    const group = event.target.closest(".field");
    const n = group ? Number(group.dataset.n) : null;
    const sizing = event.target.classList.contains("handle");
    const mouse = event.pointerType === "mouse";
    const again = n !== null && n === state.chosen;
    const at = picture.atMm(event);
    drag = { at, from: at, px: [event.clientX, event.clientY], mouse, sizing, group: n, key: `drag ${performance.now()}`, moved: false };
    drag.free = mayEdit && (mouse || (desk.someChosen() && (again || sizing)));
    if (!mouse && !drag.free) return; // the page's to scroll; a press is told from a swipe when it ends
    drag.part = again && boxesOf(chosen()).length > 1 ? Number(event.target.dataset.part ?? 0) : null;
    if (again) picture.group(n).focus({ preventScroll: true });
    else if (n !== null) choose(n, null, "picture");
    if (mayEdit) sheet.setPointerCapture(event.pointerId);
    event.preventDefault();
  });
  // What holds the page still under a finger; `touch-action` would hold it for every field or for none.
  sheet.addEventListener("touchstart", (event) => { if (drag?.free) event.preventDefault(); }, { passive: false });

  sheet.addEventListener("pointermove", (event) => {
    if (!drag || !event.isPrimary) return;
    const at = picture.atMm(event);
    if (!drag.moved) {
      if (drag.mouse ? Math.hypot(at[0] - drag.from[0], at[1] - drag.from[1]) < LEAST_MOVED_MM : Math.hypot(event.clientX - drag.px[0], event.clientY - drag.px[1]) < FINGER_PX) return;
      drag.moved = true;
      if (!drag.mouse) drag.at = at;
    }
    if (!drag.free) return;
    const by = [at[0] - drag.at[0], at[1] - drag.at[1]];
    if (drag.sizing) change(drag.key, () => size(chosen(), state.part, ...by, page), `Sized ${nameOf(chosen())}.`);
    else if (drag.group !== null) change(drag.key, () => move(chosen(), state.part, ...by, page), `Moved ${nameOf(chosen())}.`);
    drag.at = at;
  });

  sheet.addEventListener("pointerup", (event) => {
    if (!drag || !event.isPrimary) return;
    const { from, mouse, moved, free, group, sizing, part } = drag;
    drag = null;
    if (!mouse && !free) return void (group !== null && !moved && choose(group, null, "picture"));
    const to = picture.atMm(event);
    const box = [Math.min(from[0], to[0]), Math.min(from[1], to[1]), Math.abs(to[0] - from[0]), Math.abs(to[1] - from[1])].map(round);
    if (mouse && group === null && !sizing && moved && box[2] >= LEAST_DRAWN_MM && box[3] >= LEAST_DRAWN_MM) desk.add(box);
    else if (!moved && group !== null && part !== null) desk.choosePart(part);
  });
  sheet.addEventListener("pointercancel", () => { drag = null; });
}
