"""Answers as forms print them: over columns, beside boxes, in rows of words to circle, and in legends of signs."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from collections.abc import Set as AbstractSet

from rapidfuzz import fuzz

from scanform.adopt.found import FoundWord
from scanform.adopt.labels import plain
from scanform.form import DAYS, Sign

__all__ = ["Says", "answer_by_sense", "answer_of", "day_of", "legend_of", "said_by", "week_of"]

Says = Callable[[str], str | None]  # what a printed word says on this form: an answer, or None

# No outside source: usual words of check sheets in English. "yes" and "no" are answers to "is it in order?".
_ANSWERS: dict[str, tuple[str, ...]] = {
    "ok": ("ok", "okay", "good", "pass", "yes", "y", "satisfactory", "sat", "serviceable", "in order", "fine", "g", "p",
           "acceptable", "normal", "passed", "sound", "checked", "all right", "no defect", "working", "works",
           "acc", "satis", "s", "comply", "complies", "compliant", "conforms", "no fault", "no faults", "no defects",
           "good order", "in good order", "good condition", "fit for use", "safe to use"),
    "defect": ("defect", "def", "defective", "repair", "fail", "failed", "bad", "no", "n", "fix", "faulty", "fault",
               "b", "f", "unsatisfactory", "unsat", "needs repair", "attention", "needs attention", "not ok",
               "repair needed", "poor", "unserviceable", "us", "reject", "r", "d",
               "needs work", "needs fixing", "not good", "not in order", "broken", "damaged", "wrong", "problem",
               "action needed", "out of order", "action", "u", "nok", "n ok", "no good", "ng", "unsafe", "unfit",
               "not acceptable", "unacceptable", "non compliant", "not compliant", "inoperative", "not working", "attn",
               "requires repair", "repair required", "requires attention", "action required", "not safe",
               "not satisfactory", "not serviceable", "do not use", "out of service"),
    "na": ("na", "n a", "not applicable", "none", "not fitted", "does not apply", "nf", "n f", "not present",
           "not used", "not there", "not required", "nr", "n r", "not checked", "not tested", "not inspected",
           "not seen"),
}  # fmt: skip
# Answers over a column; beside a box they are more often an item's last word, "battery secure".
_HEADS: dict[str, frozenset[str]] = {
    "ok": frozenset({"adequate", "correct", "intact", "operational", "functional", "functioning", "fit", "safe",
                     "ready", "usable", "clear", "done", "true", "go", "proper", "secure", "accept", "accepted"}),
    "defect": frozenset({"deficient", "missing", "worn", "replace", "stop", "danger", "dangerous", "parked", "report",
                         "rejected", "incorrect", "false", "insecure", "attend", "stood off", "parked up", "no go",
                         "follow up"}),
    "na": frozenset({"absent", "nil"}),
}  # fmt: skip
# Written apart, and as a reader of print takes the stroke in N/A.
_JOINED = {"n a": "na", "nia": "na", "nla": "na", "n1a": "na", "nja": "na", "n f": "nf", "u s": "us", "0k": "ok"}
_ALIKE = 84.0  # as for labels; two letters never differ
_SHORT = 3
# In a legend the meaning is a phrase, of which one word tells.
_MEANINGS = {
    "na": ("not fitted", "apply", "applicable", "not used", "none fitted", "n/a", "not need", "not on th",
           "not running", "not in use", "not checked", "not looked", "not done", "not inspected", "not tested"),
    "defect": ("repair", "defect", "attention", "fault", "bad", "fail", "unserviceable", "broken", "wrong", "not ok",
               "reject", "poor", "unsaf", "adjust", "unsat", "unaccept", "stop", "not good", "not in order", "damage",
               "do not use", "not to be used", "out of use", "needs", "see to", "seeing to"),
    "ok": ("good", "order", "serviceable", "ok", "satisfactory", "pass", "sound", "checked", "fine", "normal",
           "fit to", "fit for", "safe", "ready", "all well", "all right", "acceptable", "adjusted",
           "no fault", "no defect", "needs no"),
}  # fmt: skip
_TICKS = {"tick", "check", "check mark", "checkmark", "\u2713", "\u2714", "\u221a", "\u2611", "v", "ticked"}
_DRAWN_TICKS, _DRAWN_CROSSES = "\u2713\u2714\u221a", "\u2717\u2718\u00d7"
_CROSSES = {"x", "cross", "\u2717", "\u2718", "\u00d7", "crossed"}
_DASHES = {"-", "\u2013", "\u2014", "dash", "\u2212"}
_DAY_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_MOST_LETTERS, _LONGEST_CODE = 3, 2
_LONGEST_HEAD = 3  # words
_FEWEST_SIGNS = 2
_SAY_WHEN = {"if", "for", "when"}  # "check mark if OK"; they join other things too, so only after an unmistakable sign
# "Check (\u2713) only what is defective", "Tick any item that needs repair"; but not "Check all items, report defects".
_MARK_WHAT = re.compile(
    r"\W*(tick|check|mark|(place|put) an? x)\b\W*(\([^)]*\)\W*)?"
    r"((the|each|any|box(es)?|of|items?|points?|parts?|only) )*"
    r"(?P<what>(if|where|that|which|what|beside|needing|requiring|found|in need)\b[^.]*)",
    re.IGNORECASE,
)
_PLAIN_SIGNS = {"tick", "cross", "dash", "letters"}


def answer_of(text: str) -> str | None:
    """``ok``, ``defect`` or ``na`` if the printed word is one of the usual answers, else None."""
    words = plain(text.replace("/", " ").replace(".", " "))
    words = _JOINED.get(words, words)
    best, score = None, 0.0
    for answer, variants in _ANSWERS.items():
        for variant in variants:
            alike = fuzz.ratio(words, variant)
            if alike > score and (alike == 100 or min(len(words), len(variant)) > _SHORT):
                best, score = answer, alike
    return best if score >= _ALIKE else None


def answer_by_sense(text: str) -> str | None:
    """The answer that a column's head of a few words tells by one of them, as the words of a legend do: "Left sound".

    For heads alone: beside a box the same words may be an item's.
    """
    words = plain(text)
    if len(words.split()) > _LONGEST_HEAD or "=" in text:
        return None
    return next((answer for answer, told in _HEADS.items() if words in told), None) or _meaning(text)


def said_by(signs: Sequence[Sign], often: AbstractSet[str] = frozenset()) -> Says:
    """What words say on a form with this legend: its own letters as it explains them, else the usual answers.

    ``often``: texts that are printed beside boxes time and again, which are answers if they can be.
    """
    heads = {text: answer for text in often if (answer := answer_by_sense(text)) is not None}
    told = {sign.sign: sign.answer for sign in signs if sign.sign.isupper() or sign.sign.isdecimal()}
    told |= dict.fromkeys(_DRAWN_TICKS, "ok") | dict.fromkeys(_DRAWN_CROSSES, "defect")
    return lambda text: (
        told.get(text.strip(" .:()").upper().replace("/", "")) or answer_of(text) or heads.get(text.strip(" .:"))
    )


def day_of(text: str) -> str | None:
    """``mon`` to ``sun`` or ``1`` to ``31`` if the head of a column names a day, else None."""
    words = plain(text)
    if words.isdecimal():
        return str(int(words)) if 1 <= int(words) <= 31 else None
    if len(words) < 3 and words not in {"m", "tu", "w", "th", "f", "sa", "su"}:
        return None
    return next(
        (day for day, name in zip(DAYS, _DAY_NAMES, strict=True) if len(words) >= 3 and name.startswith(words)), None
    )


def legend_of(lines: Sequence[FoundWord]) -> tuple[tuple[Sign, ...], tuple[FoundWord, ...]]:
    """What the form says its signs mean, and the lines that say it.

    ``lines``: whole printed lines. One that pairs two signs or more with words by "=" is a legend.
    """
    found: dict[str, Sign] = {}
    used = []
    for line in lines:
        signs = _signs(line.text)
        if len({sign.sign for sign in signs}) < _FEWEST_SIGNS:
            signs = _listed_signs(line.text) or (_of_defects_only(line.text) if not signs else [])
        if signs:
            used.append(line)
            for sign in signs:
                found.setdefault(sign.sign, sign)
    return tuple(found.values()), tuple(used)


def _listed_signs(text: str) -> list[Sign]:
    """Signs with their meanings right after them, between commas after a colon: "Sign: X all well, O defect"."""
    parts = [part.split() for part in re.split(r"[,;]", text.partition(":")[2])]
    told = [(_sign_name(words[0]), " ".join(words[1:])) for words in parts if len(words) > 1]
    signs = [Sign(sign=name, answer=answer, words=said[:80]) for name, said in told
             if name and (answer := _meaning(said))]  # fmt: skip
    return signs if _FEWEST_SIGNS <= len(signs) == len(parts) else []


def _of_defects_only(text: str) -> list[Sign]:
    """A tick and a cross as the signs of a defect where a line says that only defects are marked."""
    said = _MARK_WHAT.match(text)
    if said is None or _meaning(re.split("[,;]", said["what"])[0]) != "defect":
        return []
    return [Sign(sign=sign, answer="defect", words=text[:80]) for sign in ("tick", "cross")]


def _signs(text: str) -> list[Sign]:
    tokens = _equated(re.sub(r"\s*(=|\bmeans\b)\s*", " = ", text).split())
    equals = [n for n, token in enumerate(tokens) if token == "="]
    starts = [_sign_start(tokens, n) for n in equals]
    signs = []
    for place, (start, at) in enumerate(zip(starts, equals, strict=True)):
        end = starts[place + 1] if place + 1 < len(starts) else len(tokens)
        words = " ".join(tokens[at + 1 : end]).strip(" ,;.")
        answer = _meaning(words)
        names = [name for part in re.split(r"\bor\b|,", " ".join(tokens[start:at])) if (name := _sign_name(part))]
        signs += [Sign(sign=name, answer=answer, words=words[:80]) for name in names if answer]
    return signs


def _equated(tokens: list[str]) -> list[str]:
    """The words with "=" where "if" stands after a sign, or, on a line with a drawn tick, right after every sign."""
    said = ["=" if t in _SAY_WHEN and _ends_in_sign(tokens[:n]) else t for n, t in enumerate(tokens)]
    if "=" in said or not any(t in _TICKS and not t.isalpha() for t in tokens):
        return said
    drawn = _TICKS | _CROSSES | _DASHES | {"n/a", "na"}
    parted: list[str] = []
    for n, token in enumerate(said):
        starts = token.lower() in drawn or (
            _is_code(token) and bool(parted) and parted[-1] != "=" and n + 1 < len(said)
        )
        parted += (token, "=") if starts else (token,)
    return parted


def _is_code(token: str) -> bool:
    """Whether a word may be a code letter among drawn signs: "N not fitted"; "A" and "I" are words too."""
    return len(token) <= _LONGEST_CODE and token.isalpha() and token.isupper() and token not in {"A", "I", "OK"}


def _ends_in_sign(tokens: Sequence[str]) -> bool:
    return any(_sign_name(" ".join(tokens[-count:])) in _PLAIN_SIGNS for count in (1, 2) if len(tokens) >= count)


def _sign_start(tokens: list[str], equals: int) -> int:
    """Where the sign before an equals sign begins: one word, two for "check mark", more where "or" joins them."""
    start = max(equals - 1, 0)
    if tokens[start].lower() == "mark" and start:
        start -= 1
    while start >= 2 and tokens[start - 1].lower() == "or":
        start -= 2
    # "-or" where the gap between dash and word was too small to see
    if start >= 1 and tokens[start - 1].lower().endswith("or") and tokens[start - 1][0] in _DASHES:
        start -= 1
    return start


def _sign_name(part: str) -> str | None:
    word = part.strip(" ,;:.()'\"\u2018\u2019").lower()
    if word in _TICKS:
        return "tick"
    if word in _CROSSES:
        return "cross"
    if part.strip() in _DASHES or word in _DASHES:
        return "dash"
    if word.replace("/", "").replace(".", "") == "na":
        return "letters"
    word = word.replace("/", "")  # N/F, U/S
    code = word.isdecimal() or (word.isalpha() and (len(word) == 1 or not part.strip(" ,;:.()").islower()))
    return word.upper() if code and len(word) <= _MOST_LETTERS else None


def _meaning(words: str) -> str | None:
    """By what the first phrase that says anything says first, each word by its beginning: "unsatisfactory" is not
    "satisfactory", and a fault is none that is "not fitted" because these words come after it.
    """
    for phrase in re.split(r"[,;.]| / ", words.lower()):
        told = [
            (said.start(), -len(part), answer)
            for answer, parts in _MEANINGS.items()
            for part in parts
            if (said := re.search(rf"(?<![a-z]){re.escape(part)}", phrase)) is not None
        ]
        if told:
            return min(told)[2]
    return "defect" if words.strip() == "not" else None  # "a tick if in order, X if not"


def week_of(texts: Sequence[str]) -> list[str]:
    """The days that five to seven heads in turn name by any beginning of their names, "M T W Th F"; empty if none."""
    said = [plain(text) for text in texts]
    if not 5 <= len(said) <= 7 or not all(said):
        return []
    for start in range(len(DAYS)):
        names = [_DAY_NAMES[(start + n) % 7] for n in range(len(said))]
        if all(name.startswith(word) for name, word in zip(names, said, strict=True)):
            return [DAYS[(start + n) % 7] for n in range(len(said))]
    return []
