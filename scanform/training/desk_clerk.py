"""A clerk who knows what the paper says: settles doubts at the desk by keys alone, in a real browser.

    python -m scanform.training.desk_clerk --out FOLDER

fills in pads, scans them, reads the scans into a binder, and has this clerk settle 200 doubts: each reading is held
against what the simulator wrote, taken if it is right, and replaced if it is wrong. What is counted is key presses, and
whether the record says in the end what the paper does. It needs the ``dev`` extra and Debian's Chromium.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import fmean

from playwright.sync_api import Page, sync_playwright
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from scanform.binder import Binder, open_binder
from scanform.desk.wording import value_words
from scanform.settle import same_value
from scanform.training.desk_bench import CHROMIUM, FLAGS, desk_process
from scanform.training.desk_stack import read_until

__all__ = ["ClerkFigures", "OnPaper", "Settled", "figures_of", "settle_by_paper"]

SETTLED = 200
_WHO = "DB"  # the initials that the desk is started with

# What the paper says in a field: record number, field id.
OnPaper = Callable[[int, str], str | bool | None]

_COUNT_KEYS = """
() => {
  window.pressed = 0;
  addEventListener("keydown", (event) => { if (event.isTrusted) pressed += 1; }, true);
}
"""
# What a person sees: the reading (null for a spot check), and what a key would take instead, as [key, words].
_SEEN = """
() => {
  const $ = (id) => document.getElementById(id);
  const choices = (group) => [...$(group).querySelectorAll("button")].map((button) => {
    const key = button.querySelector("kbd").textContent;
    return [key, button.textContent.slice(key.length).trim().replace(/ \\([^()]*%\\)$/, "")];
  });
  return {
    ref: $("desk").hidden ? null : document.querySelector(".doubt").dataset.ref,
    reading: $("reading-row").hidden ? null : $("reading").textContent,
    others: choices("others"),
    answers: choices("answers"),
    typing: document.activeElement === $("typed"),
  };
}
"""
_AFTER = """
(ref) => {
  const $ = (id) => document.getElementById(id);
  if (!$("alarm").hidden) return $("alarm-said").textContent;
  if (!$("question").hidden) return "asked";
  return $("desk").hidden || document.querySelector(".doubt").dataset.ref !== ref ? "next" : false;
}
"""


@dataclass(frozen=True)
class Settled:
    """One doubt settled. ``right``: whether the machine's reading was, None if it was not shown. ``keys`` pressed."""

    ref: str
    right: bool | None
    keys: int


@dataclass(frozen=True)
class ClerkFigures:
    """Keys are presses a doubt. ``as_on_paper``: how many fields now say what the paper does; ``in_journal``: how many
    have an entry of this clerk with the time.
    """

    sheets: int
    settled: int
    right: int
    keys_right: float
    wrong: int
    keys_wrong: float
    keys_all: float
    as_on_paper: int
    in_journal: int


def settle_by_paper(page: Page, on_paper: OnPaper, most: int) -> list[Settled]:
    """Settle doubts on the settling page that is open, ``most`` of them or all there are; in the order settled.

    RuntimeError with the desk's own sentence if it refuses what the paper says.
    """
    page.evaluate(_COUNT_KEYS)
    done: list[Settled] = []
    while len(done) < most:
        seen = page.evaluate(_SEEN)
        if seen["ref"] is None:
            break
        number, _, field_id = seen["ref"].partition(".")
        truth = on_paper(int(number), field_id)
        words = value_words("choice" if seen["answers"] else "text", truth)
        right = None if seen["reading"] is None else same_value(field_id, seen["reading"], words)
        before = page.evaluate("pressed")
        for key in _keys(field_id, seen, words, truth, right):
            page.keyboard.press(key)
        after = _after(page, seen["ref"])
        if after == "asked":  # unlikely, and yet on the paper
            page.keyboard.press("Enter")
            page.wait_for_function("() => document.getElementById('question').hidden")
            after = _after(page, seen["ref"])
        if after != "next":
            raise RuntimeError(f"{seen['ref']}, {words!r}: {after}")
        done.append(Settled(seen["ref"], right, page.evaluate("pressed") - before))
    return done


def _keys(
    field_id: str, seen: dict[str, list[tuple[str, str]]], words: str, truth: str | bool | None, right: bool | None
) -> Sequence[str]:
    """The fewest keys that say what the paper says."""
    if right:
        return ["Enter"]
    for key, meant in (*seen["others"], *seen["answers"]):
        if same_value(field_id, meant, words):
            return [key.lower()]
    if truth in (None, ""):
        return ["Escape", "b"] if seen["typing"] else ["b"]
    assert isinstance(truth, str)
    begin = [] if seen["typing"] else ["t"]
    return [*begin, *truth, "Enter"]


def _after(page: Page, ref: str) -> str:
    try:
        return str(page.wait_for_function(_AFTER, arg=ref).json_value())
    except PlaywrightTimeout as waited:
        raise RuntimeError(f"{ref}: nothing came after the key; the page says {page.inner_text('#news')!r}") from waited


def figures_of(binder: Binder, settled: Sequence[Settled], on_paper: OnPaper, initials: str) -> ClerkFigures:
    """What the record says of the fields that a clerk of those initials has settled."""
    right, wrong = ([s.keys for s in settled if s.right is kind] for kind in (True, False))
    said = [
        (entry.body["page"], entry.body["field"])
        for entry in binder.journal()
        if entry.kind == "field-confirmed" and entry.body["initials"] == initials and entry.at is not None
    ]
    pages = {page.number: page.record for page in binder.pages()}
    same = 0
    for number, field_id in (_place(s.ref) for s in settled):
        field = pages[number].field(field_id)
        assert field is not None
        same += same_value(field_id, field.value, on_paper(number, field_id))
    return ClerkFigures(
        sheets=len(pages),
        settled=len(settled),
        right=len(right),
        keys_right=fmean(right) if right else 0.0,
        wrong=len(wrong),
        keys_wrong=fmean(wrong) if wrong else 0.0,
        keys_all=fmean(s.keys for s in settled),
        as_on_paper=same,
        in_journal=sum(said.count(_place(s.ref)) == 1 for s in settled),
    )


def _place(ref: str) -> tuple[int, str]:
    number, _, field_id = ref.partition(".")
    return int(number), field_id


def main() -> None:
    """Measure from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="folder for scans, truth and binder; must not exist")
    out: Path = parser.parse_args().out
    out.mkdir(parents=True)
    folder = out / "binder"
    on_paper = read_until(out, folder, SETTLED)
    with desk_process(folder, _WHO) as link, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = browser.new_page(viewport={"width": 1280, "height": 720})
        page.goto(link)
        page.goto(link.partition("/open/")[0] + "/settle/doubts")
        page.wait_for_selector(".doubt[data-ref]")
        settled = settle_by_paper(page, on_paper, SETTLED)
        browser.close()
    with open_binder(folder) as binder:
        figures = figures_of(binder, settled, on_paper, _WHO)
    print(json.dumps(asdict(figures), indent=2))


if __name__ == "__main__":
    main()
