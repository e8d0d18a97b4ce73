"""One item of a check list: its words, its places, and what each of them means."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from scanform.adopt.answers import Says, day_of
from scanform.adopt.day_rows import DayRow, Place, asks_each_time
from scanform.adopt.found import FoundWord, text_of
from scanform.adopt.heads import OCCASION, Head
from scanform.adopt.labels import slug
from scanform.adopt.places import ON_ROW_MM
from scanform.form import Box

__all__ = [
    "ListedItem",
    "Spot",
    "as_the_others",
    "beside",
    "captions_box",
    "items_of",
    "often_beside",
    "says_answer",
    "worded_above",
    "written_each_turn",
]

_CAPTION_MM, _LONE_BOX_MM = 2.5, 9.0
_BESIDE_MM = 4.5  # from a box to the word that says what ticking it means
_FEWEST_ROWS = 3
_TO_WRITE_IN_MM = 10.0
_FEWEST_REPEATED = 4
_ABOVE_MM = 6.0  # from the words of an item down to places under them
_LEFT_OVER = 0.65  # how sure one is of an answer that is known because it is the one left over
_NUMBERING = re.compile(r"\(?\d+(\.\d+)*[.)]*")  # "7", "3)", "2.1"
_NO_TEXT = 0.3  # and of places without words
_SURELY_READ = 5  # letters; usual answers that are as long are told though misread


@dataclass(frozen=True)
class ListedItem:
    """One item in print. ``words``: those that make its text. ``sure``: 0 to 1."""

    text: str
    places: tuple[Place, ...]
    words: tuple[FoundWord, ...]
    sure: float

    @property
    def y_mm(self) -> float:
        """Of the middle of its row."""
        return self.places[0].box_mm.centre_mm[1]


@dataclass(frozen=True)
class Spot:
    """A place before it is known what it means."""

    box: Box
    head: Head  # of its column; of a word to circle, the word
    how: Literal["box", "word"] = "box"


def items_of(run: Sequence[Spot], words: Sequence[FoundWord], says: Says) -> list[ListedItem]:
    """The items of a run: more than one where each day has a place for every shift, or where the answers begin anew."""
    run = _signed_at_times(run, words, says)
    parts = list(dict.fromkeys(spot.head.part for spot in run))
    if len(parts) > 1:
        made = [_item([spot for spot in run if spot.head.part == part], words, says) for part in parts]
        return [
            replace(item, text=f"{item.text}, {part}" if item.text else "")
            for item, part in zip(made, parts, strict=True)
        ]
    whole = _item(run, words, says)
    turns: list[list[Spot]] = []
    said: set[str] = set()
    for spot, place in zip(run, whole.places, strict=True):
        if not turns or (place.means and place.means in said):
            turns.append([])
            said = set()
        turns[-1].append(spot)
        said.add(place.means)
    if len(turns) == 1 or len({len(turn) for turn in turns}) > 1 or len(turns[0]) == 1:
        return [whole]
    near = [[w for w in words if any(beside(w.box_mm, spot.box) for spot in turn)] for turn in turns]
    return [_item(turn, own, says) for turn, own in zip(turns, near, strict=True)]


def _signed_at_times(run: Sequence[Spot], words: Sequence[FoundWord], says: Says) -> list[Spot]:
    """A row's boxes as parts of their own, each for a sign, if their heads tell times or occasions and no answer.

    "07:30" and "12:30", "am" and "pm", "before" and "after": heads that differ, none of them an answer or a day.
    """
    texts = [spot.head.text for spot in run]
    other = any(spot.head.known or spot.head.part for spot in run) or any(says_answer(w, run, says) for w in words)
    if len(run) < 2 or other or len(set(texts)) < len(run) or not all(OCCASION.search(text) for text in texts):
        return list(run)
    return [replace(spot, head=replace(spot.head, part=spot.head.text)) for spot in run]


def written_each_turn(run: Sequence[Spot], words: Sequence[FoundWord], says: Says) -> list[DayRow]:
    """Rows of rooms to write in, one for each turn of a day, among the rows to sign: the meter, the initials.

    Its places' heads tell the turns, no answers; they are wide enough to write in.
    """
    turns = _signed_at_times(run, words, says)
    label = _text([w for w in words if not says_answer(w, run, says)])
    asks = asks_each_time(label)
    if not asks or len(run) < 2 or turns == list(run) or min(spot.box.w_mm for spot in run) < _TO_WRITE_IN_MM:
        return []
    return [DayRow(asks, f"{label}, {spot.head.part}", (Place(spot.box, ""),)) for spot in turns]


def worded_above(wordless: Sequence[ListedItem], words: Sequence[FoundWord]) -> list[ListedItem]:
    """Items whose words stand over their places, as on cards; those that have none there are left out."""
    found = []
    for item in wordless:
        span = item.places[0].box_mm
        for box in [*(place.box_mm for place in item.places), *(word.box_mm for word in item.words)]:
            span = span.union(box)
        over = [
            w
            for w in words
            if -0.5 < span.y_mm - w.box_mm.bottom_mm < _ABOVE_MM
            and span.x_mm - _ABOVE_MM < w.box_mm.x_mm < span.right_mm
        ]
        if not over:
            continue
        lowest = max(w.box_mm.centre_mm[1] for w in over)
        own = [w for w in over if lowest - w.box_mm.centre_mm[1] < ON_ROW_MM]
        sure = round(item.sure / _NO_TEXT, 2)
        found.append(replace(item, text=_text(own), words=(*own, *item.words), sure=min(sure, 0.9)))
    return found


def _item(run: Sequence[Spot], words: Sequence[FoundWord], says: Says) -> ListedItem:
    labels = [w for w in words if says_answer(w, run, says) and says(w.text) is not None]
    follows = _labels_follow(run, labels)
    places = tuple(Place(spot.box, _means(spot, labels, len(run), follows, says), spot.how) for spot in run)
    text_words = [w for w in words if not says_answer(w, run, says)]
    text = _text(text_words)
    told, left_over = _last_one_told(places)
    # A word that was read and that nobody knows may be the answer left over only if that is the defect: what "amber"
    # or "monitor" stands for is not kept from anybody as not applicable.
    strange = next((n for n, spot in enumerate(run) if not places[n].means and _read_as_another(spot)), None)
    left_over = left_over and (strange is None or told[strange].means == "defect")
    places = told if left_over else places
    known = sum(bool(place.means) for place in places) / len(places)
    if any(place.means for place in places):
        places = _named_by_heads(run, places)
    one_each = len({place.means for place in places}) == len(places)
    sure = (0.95 if one_each else 0.4) * (1.0 if known == 1 or len(places) == 1 else 0.6) * (1.0 if text else _NO_TEXT)
    sure *= _LEFT_OVER if left_over else 1.0
    return ListedItem(text, places, (*text_words, *labels), round(sure, 2))


def _read_as_another(spot: Spot) -> bool:
    """Whether a place's head was surely read, though nobody knows it: printed in the place itself, every time anew, or
    a word so long that it is no usual answer with a letter misread.
    """
    lettered = any(spot.box.contains(Box(*word.box_mm.centre_mm, 0.01, 0.01)) for word in spot.head.words)
    return lettered or _headed_by_word(spot)


def _headed_by_word(spot: Spot) -> bool:
    texts = [word.text.strip(" .:") for word in spot.head.words]
    return any(text.isalpha() and len(text) >= _SURELY_READ for text in texts)


def _named_by_heads(run: Sequence[Spot], places: tuple[Place, ...]) -> tuple[Place, ...]:
    """Places that say no usual answer beside others that do, called by their heads' own words: "monitor"."""
    taken = {place.means for place in places}
    return tuple(
        replace(place, means=slug(spot.head.text, taken, "answer"))
        if not place.means and spot.how == "box" and _headed_by_word(spot)
        else place
        for spot, place in zip(run, places, strict=True)
    )


def _last_one_told(places: tuple[Place, ...]) -> tuple[tuple[Place, ...], bool]:
    """The places with one whose head was not read told by the others: the last of OK, Defect and N/A, or of two."""
    said = [place.means for place in places]
    usual = ["ok", "defect", "na"][: len(places)]
    left = [answer for answer in usual if answer not in said]
    if len(places) not in (2, 3) or said.count("") != 1 or len(left) != 1:
        return places, False
    return tuple(place if place.means else replace(place, means=left[0]) for place in places), True


def as_the_others(items: Sequence[ListedItem]) -> list[ListedItem]:
    """Items of which some answer was not read, in the order that others with as many places have, if it agrees."""
    orders = Counter(tuple(place.means for place in item.places) for item in items if len(item.places) > 1)
    whole = [order for order, times in orders.most_common() if all(order) and times >= _FEWEST_ROWS]
    made = []
    for item in items:
        said = [place.means for place in item.places]
        usual = None if all(said) else next((order for order in whole if _agree(said, order)), None)
        if usual is not None:
            places = tuple(replace(place, means=means) for place, means in zip(item.places, usual, strict=True))
            item = replace(item, places=places, sure=min(_LEFT_OVER, 2 * item.sure))
        made.append(item)
    return made


def _agree(said: Sequence[str], order: Sequence[str]) -> bool:
    return len(said) == len(order) and all(one in ("", other) for one, other in zip(said, order, strict=True))


def _text(words: Sequence[FoundWord]) -> str:
    """An item's words without the form's own numbering: items are numbered in printed order."""
    from_left = sorted(words, key=lambda w: w.box_mm.x_mm)
    if len(words) > 1 and _NUMBERING.fullmatch(from_left[0].text) and _begins(from_left[1].text):
        words = [w for w in words if w is not from_left[0]]  # it may stand beside two lines of words
    text = text_of(words).strip(" -\u2013/|:.")
    number, _, rest = text.partition(" ")
    return rest if _NUMBERING.fullmatch(number) and rest and _begins(rest) else text


def _begins(text: str) -> bool:
    """Whether an item's words may begin so after its number: "20 / 40 ft" is no item 20."""
    return text[0] not in "/-\u2013x\u00d7" or text[1:2].isalpha()


def _labels_follow(run: Sequence[Spot], labels: Sequence[FoundWord]) -> bool:
    """Whether words that say what a box means stand after their boxes, as on most forms, and not before them."""
    first, last = run[0].box, run[-1].box
    before = any(w.box_mm.x_mm < first.x_mm and beside(w.box_mm, first) for w in labels)
    after = any(w.box_mm.x_mm > last.x_mm and beside(w.box_mm, last) for w in labels)
    return after or not before


def _means(spot: Spot, labels: Sequence[FoundWord], places: int, follows: bool, says: Says) -> str:
    if spot.how == "word":
        return says(spot.head.text) or ""
    day = spot.head.day or day_of(spot.head.text)
    if day and places > _FEWEST_ROWS:
        return day
    if spot.head.means and not (spot.head.guessed and labels):
        return spot.head.means
    captions = [w for w in labels if captions_box(w.box_mm, spot.box)]
    if captions:
        return says(captions[0].text) or ""
    near = [w for w in labels if beside(w.box_mm, spot.box)]
    own = [w for w in near if (w.box_mm.x_mm > spot.box.centre_mm[0]) == follows]
    first = min(own or near, key=lambda w: abs(w.box_mm.centre_mm[0] - spot.box.centre_mm[0]), default=None)
    return (says(first.text) or "") if first is not None else ""


def says_answer(word: FoundWord, row: Sequence[Spot], says: Says) -> bool:
    """Whether a word says what ticking the box beside it means, or parts two words to circle."""
    if not any(sign.isalnum() for sign in word.text):
        return any(beside(word.box_mm, spot.box) for spot in row)
    near = any(beside(word.box_mm, spot.box) or captions_box(word.box_mm, spot.box) for spot in row)
    return says(word.text) is not None and near


def often_beside(boxes: Sequence[Box], words: Sequence[FoundWord]) -> frozenset[str]:
    """Texts that stand right after or before boxes time and again: what ticking one means, and no item's words."""
    texts = Counter(w.text.strip(" .:") for w in words if any(beside(w.box_mm, box) for box in boxes))
    return frozenset(text for text, times in texts.items() if times >= _FEWEST_REPEATED)


def captions_box(word: Box, box: Box) -> bool:
    """Whether a word stands right over or under the middle of a box that is set by itself."""
    apart = max(word.y_mm - box.bottom_mm, box.y_mm - word.bottom_mm)
    reach = max(box.w_mm / 2, 1.0)
    return -0.5 < apart < _CAPTION_MM and abs(word.centre_mm[0] - box.centre_mm[0]) < reach and box.w_mm < _LONE_BOX_MM


def beside(word: Box, box: Box) -> bool:
    """Whether a word stands right before or after a box, on its level."""
    level = box.y_mm - 0.5 < word.centre_mm[1] < box.bottom_mm + 0.5
    return level and (-1 < word.x_mm - box.right_mm < _BESIDE_MM or -1 < box.x_mm - word.right_mm < _BESIDE_MM)
