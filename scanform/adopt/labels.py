"""What a printed label asks for: the words that forms use beside the places to fill in."""

from __future__ import annotations

import re
from typing import NamedTuple

from rapidfuzz import fuzz

from scanform.adopt.label_sense import sense_of
from scanform.adopt.usual_labels import KINDS_OF_UNIT, LABELS, NUMBERED_OTHERWISE
from scanform.form import FieldKind

__all__ = [
    "Asked",
    "asked_by",
    "asks_remarks",
    "guessed_by",
    "numbered",
    "order_of",
    "plain",
    "slug",
    "usually_asked_by",
]

_ALIKE = 86.0  # rapidfuzz's ratio, 0 to 100: one letter misread in a word of five, by a reader of print
_DATES, _NUMBERS = {"date", "week"}, {"hours"}
_SIGNED = {"signature", "initials"}  # whether they are there is read, never whose they are
_SLUG_LENGTH = 24
_GUESSED, _BARE_SURE = 0.6, 0.9
_SENSED = 0.8  # from how sure a sense on it counts as much as a usual label
_ANOTHER_TIME = {"next", "last", "previous", "due", "start", "finish", "begin", "end", "before", "until", "service"}
_REMARKS = {"remarks", "comments", "notes", "defects", "faults", "problems", "repairs", "trouble", "complaints"}

_ORDER = re.compile(r"(?:(?<=\W)|^)\(?\s*(?:[dmyDMY]{1,4}[\s/.\-]*){3,8}\)?\s*$")
_NUMBERED = re.compile(r"^(?P<what>.+?) (no|number|num|nr|id|code|reg|rego|registration|ref|tag)( no)?$")
_TO_SIGN = re.compile(r"\((please )?sign")
# "Round done by": whoever looked the machine over. "Say what is wrong": room for remarks.
_LOOKED = {"checked", "inspected", "done", "examined", "completed", "carried", "filled", "used", "driven", "operated"}
_SAY = {"what", "whats", "describe", "say", "write", "state", "explain", "if", "tick", "anything"}
_AMISS = {"wrong", "not", "defect", "defects", "fault", "faults", "found", "amiss", "broken", "unsatisfactory", "bad"}
_TWO_SENTENCES = re.compile(r"[a-z]{3}\. [A-Z]")  # how the form is filled in, and no label
_SIGNED_BY = re.compile(r"^(?P<who>.+?) (sign|signed|signature|sig|initials|name)$")


class Asked(NamedTuple):
    """What a label asks for: the field's id, its kind, and how surely, 0 to 1."""

    id: str
    kind: FieldKind
    sure: float


def plain(text: str) -> str:
    """Small letters and single spaces, without what stands in brackets and without punctuation."""
    text = re.sub(r"\([^)]*\)", " ", text.lower().replace("\u2019", "'"))
    text = re.sub(r"'s\b", "s", text).replace("#", " no ")
    return " ".join(re.sub(r"[^a-z0-9]+", " ", text).split())


def asked_by(label: str) -> Asked | None:
    """What a printed label asks for: one of the usual ones, or one whose words leave no doubt; else None."""
    usual = usually_asked_by(label)
    if usual is not None:
        return usual
    name, sure = sense_of(label) or ("", 0.0)
    return Asked(name, _kind(name), sure) if sure >= _SENSED else None


def usually_asked_by(label: str) -> Asked | None:
    """What a printed label asks for; None if it is none of the usual ones."""
    words = plain(label)
    if not words:
        return None
    if _TO_SIGN.search(label.lower()):
        return Asked("signature", FieldKind.SIGNATURE, _BARE_SURE)
    number = _NUMBERED.match(words)
    if number is not None:
        score = _names_machine(number["what"])
        if score >= _ALIKE:
            return Asked("unit", FieldKind.TEXT, score / 100)
    signed = _SIGNED_BY.match(words)
    if signed is not None and (who := asked_by(signed["who"])) is not None and who.id == "foreman":
        return who
    best, score = "", 0.0
    for field_id, variants in LABELS.items():
        for variant in variants:
            alike = fuzz.ratio(words, variant)
            # Short labels must be met exactly: one letter in three makes another word.
            if alike > score and (alike == 100 or len(variant) > 4):
                best, score = field_id, alike
    if score >= _ALIKE:
        return Asked(best, _kind(best), score / 100)
    return Asked("unit", FieldKind.TEXT, _BARE_SURE) if words in KINDS_OF_UNIT.split() else None


def numbered(label: str) -> bool:
    """Whether a label asks for the number of something that may be a machine: not of a job, a page or a person."""
    number = _NUMBERED.match(plain(label))
    return number is not None and not set(NUMBERED_OTHERWISE.split()) & set(number["what"].split())


def guessed_by(label: str) -> Asked | None:
    """What a label probably asks for, by its first or last words: a longer wording than the usual one.

    None if it also says that another occasion is meant, as "hours at next service" does.
    """
    if _TWO_SENTENCES.search(label):
        return None
    sense = sense_of(label)
    if sense is not None:
        name, sure = sense
        return Asked(name, _kind(name), sure) if name else None
    whole = plain(label).split()
    said = plain(re.split(r"[:,;]| - | of ", label)[0]).split() or whole
    if not said or _ANOTHER_TIME & set(whole):
        return None
    if said[0] == "who":
        return Asked("operator", FieldKind.TEXT, _GUESSED)
    if _REMARKS & set(said):
        return Asked("remarks", FieldKind.TEXT, _GUESSED)
    parts = re.split(r"/| and | & | \+ ", label)
    for language in parts if len(parts) > 1 else ():
        asked = asked_by(language) or guessed_by(language)
        if asked is not None:
            return asked._replace(sure=_GUESSED)
    if "by" in said and _LOOKED & set(said):
        return Asked("operator", FieldKind.TEXT, _GUESSED)
    if said[0] in _SAY and _AMISS & set(whole):
        return Asked("remarks", FieldKind.TEXT, _GUESSED)
    if "by" in said[1:-1]:
        said = said[: said.index("by") + 1]  # who it is done by is no label: "seen by yard"
    for length in range(len(said) - (said == whole), 0, -1):
        for part in (said[-length:], said[:length]):
            asked = asked_by(" ".join(part))
            if asked is not None:
                return asked._replace(sure=_GUESSED)
    return None


def asks_remarks(label: str) -> bool:
    """Whether a label asks for words on what was found, surely or probably."""
    asked = asked_by(label) or guessed_by(label)
    return asked is not None and asked.id == "remarks"


def _names_machine(words: str) -> float:
    """How like a kind of machine the last of the words is, 0 to 100."""
    return max(fuzz.ratio(words.split()[-1], kind) for kind in KINDS_OF_UNIT.split())


def order_of(label: str) -> tuple[str, str]:
    """The order of day, month and year that a label prints after its words ("Date D D M M Y Y", "Date (dd/mm/yy)").

    Returns it as ``ddmmyy`` and the label without it; empty if the label says none.
    """
    found = _ORDER.search(label)
    letters = re.sub(r"[^dmy]", "", found[0].lower()) if found else ""
    if found is None or set(letters) != {"d", "m", "y"} or not 3 <= len(letters) <= 8:
        return "", label
    return letters, label[: found.start()].strip(" (:")


def _kind(field_id: str) -> FieldKind:
    if field_id in _DATES:
        return FieldKind.DATE
    if field_id in _NUMBERS:
        return FieldKind.NUMBER
    return FieldKind.SIGNATURE if field_id in _SIGNED else FieldKind.TEXT


def slug(text: str, taken: set[str], otherwise: str = "field") -> str:
    """A name made of the text's words, at most 24 characters, that is not taken yet; it is put among the taken."""
    words = [word for word in plain(text).split() if word not in {"the", "and", "of", "a", "in", "for", "to", "or"}]
    name = ""
    for word in words:
        longer = f"{name}-{word}" if name else word
        if len(longer) > _SLUG_LENGTH - 3:
            break
        name = longer
    name = name or (words[0][: _SLUG_LENGTH - 3] if words else otherwise)
    if not name[0].isalpha():
        name = f"n-{name}"[: _SLUG_LENGTH - 3].rstrip("-")
    number, unique = 2, name
    while unique in taken:
        unique, number = f"{name}-{number}", number + 1
    taken.add(unique)
    return unique
