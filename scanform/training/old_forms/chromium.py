"""Forms written as HTML: Chromium prints them, and says itself where every marked element came to lie.

An element with ``data-field`` is a place to write: ``data-kind`` and ``data-style`` as in
:class:`~scanform.training.old_forms.drawn.FormField`, ``data-answer`` for one answer of a choice, ``data-cell`` for a
comb's cell, ``data-label`` for the printed words. ``data-glyph`` marks a box character: the field is the character's
ink, not its line of text.
"""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from scanform.form.geometry import Box
from scanform.training.old_forms.drawn import DrawnForm, FormField

__all__ = ["CHROMIUM", "printed_form"]

CHROMIUM = "/usr/bin/chromium"  # Debian's package
_MM = 25.4 / 96  # a CSS pixel is 1/96 in (CSS Values and Units, absolute lengths)
_MEASURE = """() => Array.from(document.querySelectorAll('[data-field]')).map(e => {
  let r = e.getBoundingClientRect();
  let box = [r.left, r.top, r.width, r.height];
  if (e.dataset.glyph !== undefined) {
    const probe = document.createElement('span');
    probe.style.cssText = 'display:inline-block;width:0;height:0';
    e.appendChild(probe);
    const base = probe.getBoundingClientRect().bottom;
    e.removeChild(probe);
    const style = getComputedStyle(e);
    const pen = document.createElement('canvas').getContext('2d');
    pen.font = `${parseFloat(style.fontSize) * 50}px ${style.fontFamily}`;
    const m = pen.measureText(e.textContent.trim());
    box = [r.left - m.actualBoundingBoxLeft / 50, base - m.actualBoundingBoxAscent / 50,
           (m.actualBoundingBoxLeft + m.actualBoundingBoxRight) / 50,
           (m.actualBoundingBoxAscent + m.actualBoundingBoxDescent) / 50];
  }
  return {...e.dataset, box};
})"""
_FRAME = """<!doctype html><html><head><meta charset="utf-8"><style>
@page {{ size: {w}mm {h}mm; margin: 0 }}
html, body {{ margin: 0; padding: 0; width: {w}mm; }}
* {{ box-sizing: border-box; }}
.page {{ position: relative; width: {w}mm; height: {h}mm; overflow: hidden; }}
{css}
</style></head><body><div class="page">{body}</div></body></html>"""


def printed_form(
    name: str, run: str, size_mm: tuple[float, float], css: str, body: str, legend: Mapping[str, str] | None = None
) -> DrawnForm:
    """The HTML printed on one page of ``size_mm``, with its fields as Chromium laid them out."""
    width, height = size_mm
    # In a thread of its own: the caller's may be driving another browser already, and Playwright allows one a thread.
    with ThreadPoolExecutor(1) as own_thread:
        pdf, found = own_thread.submit(_printed, size_mm, _FRAME.format(w=width, h=height, css=css, body=body)).result()
    return DrawnForm(name, run, pdf, width, height, _fields(found), legend or {})


def _printed(size_mm: tuple[float, float], html: str) -> tuple[bytes, list[dict[str, Any]]]:
    """The PDF, and what Chromium says of each marked element."""
    from playwright.sync_api import sync_playwright

    width, height = size_mm
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        try:
            page = browser.new_page(viewport={"width": round(width / _MM), "height": round(height / _MM)})
            page.emulate_media(media="print")
            page.set_content(html)
            found: list[dict[str, Any]] = page.evaluate(_MEASURE)
            return page.pdf(prefer_css_page_size=True, print_background=True), found
        finally:
            browser.close()


def _fields(found: list[dict[str, Any]]) -> tuple[FormField, ...]:
    """Elements of the same field put together, in the order of their first one."""
    parts: dict[str, list[dict[str, Any]]] = {}
    for element in found:
        parts.setdefault(element["field"], []).append(element)
    return tuple(_field(field_id, elements) for field_id, elements in parts.items())


def _field(field_id: str, elements: list[dict[str, Any]]) -> FormField:
    boxes = [Box(*(value * _MM for value in element["box"])) for element in elements]
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.union(box)
    first = elements[0]
    kind, style, label = first["kind"], first["style"], first.get("label", "")
    if kind == "choice":
        answers = tuple((element["answer"], box) for element, box in zip(elements, boxes, strict=True))
        return FormField(field_id, kind, style, whole, label, answers=answers)
    if kind == "comb":
        return FormField(field_id, kind, style, whole, label, tuple(boxes), first["charset"])
    return FormField(field_id, kind, style, whole, label)
