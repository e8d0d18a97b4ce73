"""What a label asks for by the sense of its words, however they are put together: "Insp'd by (print)", "Genset tag".

An English label is about its last noun ("driver's signature"), or about the one before "of" and "for" ("signature of
driver"); what is done by somebody asks for that person ("checked by"). Words that nobody knows make it less sure.
"""

from __future__ import annotations

import re
from functools import lru_cache

from rapidfuzz import fuzz, process

from scanform.adopt import label_words as w

__all__ = ["Sense", "sense_of", "spelt_out"]

_ALIKE, _FUZZY_FROM = 85.0, 5  # rapidfuzz's ratio, 0 to 100, and letters: a slip of the pen in a word of some length
_STROKE = re.compile(r"\b([a-z])\s?/\s?([a-z])\b(?!\s?/)")
_POINTS = re.compile(r"\b(?:[a-z]\.){2,}")
_PHRASE_ENDS = {"of", "for", "at", "in", "from", "to", "about"}
_ALL_KNOWN, _ALL_BUT_SOME, _OF_ANOTHER = 0.85, 0.6, 0.5
_MOST_UNKNOWN = 2
_IN_ORDER = {"right", "good", "ok", "working", "fit", "serviceable", "order", "well"}

_LONG_WORDS = sorted(word for word in w.ALL_WORDS if len(word) >= _FUZZY_FROM)

Sense = tuple[str, float]  # what is asked for, by the field's usual name, and how surely, 0 to 1


def spelt_out(text: str) -> list[str]:
    """The label's words, small, abbreviations written out, slips mended: "M/C No." is "machine", "no"."""
    text = text.lower().replace("\u2019", "'").replace("`", "'")
    text = re.sub(r"#|\u2116|\bn[\u00b0\u00ba]", " no ", text)
    text = re.sub(r"'s\b|s'(?=\s|$)", "", text)
    if re.fullmatch(r"\W*[dmy]{1,4}(\W+[dmy]{1,4}){2}\W*", text):
        return ["dmy"]  # nothing but the order of a date
    text = _POINTS.sub(lambda run: run[0].replace(".", "") + " ", text)
    text = _STROKE.sub(r"\1\2", text)
    return [_known(word) for word in re.findall(r"[a-z]+|\d+", text.replace("'", ""))]


@lru_cache(maxsize=4096)
def _known(word: str) -> str:
    word = w.ABBREVIATED.get(word, word)
    if word in w.ALL_WORDS or len(word) < _FUZZY_FROM or word in w.SHIFTS:
        return word
    if word.endswith("s") and word[:-1] in w.ALL_WORDS:
        return word[:-1]
    near = process.extractOne(
        word, [o for o in _LONG_WORDS if abs(len(o) - len(word)) < 2], scorer=fuzz.ratio
    )  # the first of equals, in the alphabet's order
    return near[0] if near is not None and near[1] >= _ALIKE and near[0][0] == word[0] else word


def sense_of(label: str) -> Sense | None:
    """What the label asks for, or None if its words do not tell; an empty name if it is surely nothing usual.

    Words in brackets count where the others say nothing. Of two things asked for at once, "Date / shift", the first.
    """
    outside, aside = re.sub(r"\([^)]*\)?", " ", label), " ".join(re.findall(r"\(([^)]*)\)?", label))
    words, beside = spelt_out(outside), spelt_out(aside)
    if not words:
        words, beside = beside, []
    if not words:
        return None
    if _is_shift(words):
        return "shift", _ALL_KNOWN
    parts = [part for part in re.split(r"\s/\s|/(?=\w{3})|\s(?:and|&|\+)\s", outside) if spelt_out(part)]
    if len(parts) > 1:
        told = [found for part in parts if (found := sense_of(part)) is not None and found[0]]
        whole = _told(words, beside)
        if told and (whole is None or told[0][0] != whole[0]):
            return told[0][0], min(told[0][1], _ALL_BUT_SOME if len(told) < len(parts) else _ALL_KNOWN)
    return _told(words, beside)


def _told(words: list[str], aside: list[str]) -> Sense | None:
    said = _by_whom(words) or _about(words, aside)
    if said is None:
        return None
    strange = sum(word not in w.ALL_WORDS and word not in w.SHIFTS and not word.isdecimal() and len(word) > 1
                  for word in words)  # fmt: skip
    name, sure = said
    if strange > _MOST_UNKNOWN:
        return None
    return name, min(sure, _ALL_BUT_SOME) if strange else sure


def _by_whom(words: list[str]) -> Sense | None:
    """ "Checked by", "who looked", "inspected on", "reported to": of what is done, by whom, when or to whom."""
    done = set(words)
    if words[0] in {"who", "whose"} and not done & (w.PUT_RIGHT | w.TOLD):
        return "operator", _ALL_BUT_SOME
    if words[0] in {"when", "which"} and done & (w.DATE | {"when"}):
        return "date", _ALL_BUT_SOME
    if "by" in words[1:]:
        before = set(words[: words.index("by")])
        if before & w.PUT_RIGHT - w.LOOKED:
            return "", 0.0
        if before & w.PASSED:
            return "foreman", _ALL_BUT_SOME
        if before & w.SIGN:
            return "signature", _ALL_BUT_SOME
        return ("operator", _ALL_KNOWN) if before & (w.LOOKED | {"inspector"}) else ("", 0.0)
    if "not" in words and done & _IN_ORDER:
        return "remarks", _ALL_BUT_SOME
    if words[-1] == "to" and done & w.TOLD:
        return "told", _ALL_KNOWN
    if words[-1] == "on" and done & w.LOOKED and not done & w.PUT_RIGHT:
        return "date", _ALL_BUT_SOME
    if len(words) > 1 and words[-1] in w.TOLD - {"passed"} and done & (w.PEOPLE | w.OVERSEER):
        return "told", _ALL_BUT_SOME
    return None


def _about(words: list[str], aside: list[str]) -> Sense | None:
    ends = next((n for n, word in enumerate(words) if n and word in _PHRASE_ENDS), len(words))
    phrase, rest = words[:ends], words[ends + 1 :]
    if rest and set(phrase) <= w.DOCUMENT | w.FILLING:
        return _about(rest, aside)  # "docket for pump set"
    everything = {*words, *aside}
    if everything & w.SIGN and "call" not in everything:
        return _signed(everything)
    for word in reversed(phrase):
        said = _noun(word, phrase, {*words, *aside})
        if said is not None:
            return said
    return None


def _signed(everything: set[str]) -> Sense:
    """Whose signature: the one who looked, whoever is over him, or somebody from another house."""
    if everything & w.OVERSEER - {"lead", "charge"} or {"leading", "hand"} <= everything:
        return "foreman", _ALL_KNOWN
    return "signature", _OF_ANOTHER if everything & w.OTHER_PERSON else _ALL_KNOWN


def _noun(word: str, phrase: list[str], everything: set[str]) -> Sense | None:
    """What a label with this as its last telling word asks for; an empty name if surely nothing usual."""
    others = {other for other in phrase if other != word}
    if word in w.NAME and others & (w.PEOPLE | w.OVERSEER | w.PLACE | w.KINDS | w.OTHER_PERSON | w.DOCUMENT):
        return None  # "driver name": the word before it tells
    if word in w.OTHER_PERSON:
        return "", 0.0
    if word in w.REMARKS and not everything & w.NUMBER:
        return "remarks", _ALL_BUT_SOME if others else _ALL_KNOWN
    if word == "initials":
        return "initials", _ALL_KNOWN
    if word in w.WEEK or (word in w.WEEK_STARTS and others & w.WEEK):
        return "week", _ALL_KNOWN
    if word in w.DATE:
        return _dated(word, phrase, everything)
    if word in w.METER:
        return _metered(word, everything)
    if word in w.ODOMETER:
        return "odometer", _ALL_KNOWN if not everything & w.END else _ALL_BUT_SOME
    if word in w.SHIFT:
        return "shift", _ALL_KNOWN
    if word in w.OVERSEER and (word not in {"lead", "charge"} or len(phrase) == 1):
        return "foreman", _ALL_KNOWN
    if word == "hand" and others & {"leading", "lead", "charge"}:
        return "foreman", _ALL_KNOWN
    if word in w.NAME or word in w.PEOPLE:
        return "operator", _ALL_KNOWN
    if word in w.NUMBER:
        return _numbered(word, phrase)
    if word in w.PLACE:
        return "site", _ALL_BUT_SOME if others & w.REMARKS else _ALL_KNOWN
    if word in w.KINDS or word in w.MORE_KINDS:
        return ("unit", _ALL_BUT_SOME) if word != "trailer" else ("unit", _OF_ANOTHER)
    return None


def _dated(word: str, phrase: list[str], everything: set[str]) -> Sense:
    if w.WEEK & set(phrase):
        return "week", _ALL_KNOWN
    if everything & w.OTHER_DATE:
        return "", 0.0
    if word in {"day", "days"} and len(phrase) > 1 and "date" not in phrase and phrase[0] not in {"which", "what"}:
        return "", 0.0
    return "date", _ALL_BUT_SOME if everything & w.END else _ALL_KNOWN


def _metered(word: str, everything: set[str]) -> Sense | None:
    if everything & w.FLUID:
        return "", 0.0
    if word in {"reading", "readings"} and everything & w.ODOMETER:
        return "odometer", _ALL_KNOWN
    if everything & w.OTHER_DATE - {"back", "returned"}:
        return "", 0.0
    if word in {"reading", "readings", "counter"} and not everything & (w.METER - {"reading", "readings", "counter"}):
        return None
    if everything & w.END:
        return "", 0.0
    return "hours", _ALL_BUT_SOME if everything & (w.START - {"on"}) else _ALL_KNOWN


def _numbered(word: str, phrase: list[str]) -> Sense | None:
    """The number of a machine, "truck ident"; not of a job, nor of a person."""
    before = set(phrase) - {word}
    if before & (w.WORK_NUMBERED | w.PEOPLE | w.OTHER_PERSON | {"phone", "page"}):
        return "", 0.0
    if before & w.PLACE and not before & (w.KINDS | w.MORE_KINDS):
        return "site", _ALL_BUT_SOME
    kinds = before & (w.KINDS | w.MORE_KINDS)
    if kinds:
        return "unit", _OF_ANOTHER if kinds == {"trailer"} else _ALL_KNOWN
    if word in {"rego", "registration", "reg", "regn", "fleet", "asset", "callsign", "plate"} or before & (
        w.NUMBER - {"no", "code"}
    ):
        return "unit", _ALL_KNOWN if not before - w.NUMBER - w.FILLING else _ALL_BUT_SOME
    return None


def _is_shift(words: list[str]) -> bool:
    """ "Day / night", "D/S or N/S", "AM PM": nothing but the names of shifts."""
    named = [word for word in words if word not in w.SHIFT]
    told = {"night", "nights", "ns", "dn", "late", "pm", "afternoon"} & set(named)
    return bool(named) and set(named) <= w.SHIFTS and bool(told or len(named) < len(words))
