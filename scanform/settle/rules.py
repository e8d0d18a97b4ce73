"""Rules that no pixel can break: what must hold between the fields of one sheet."""

from __future__ import annotations

from scanform.form import Template
from scanform.settle.verdict import Verdict

__all__ = ["apply_rules", "line_numbers", "signed", "workshop"]


def apply_rules(verdicts: dict[str, Verdict], template: Template) -> None:
    """Add a reason to every field that breaks a rule together with others."""
    _defects_and_words(verdicts, template)
    signed(verdicts)
    _fit_for_use(verdicts, template)
    workshop(verdicts)


def _defects_and_words(verdicts: dict[str, Verdict], template: Template) -> None:
    by_number = {str(item.number): item for item in template.items}
    named: set[str] = set()
    loose_lines = []
    for n in line_numbers(verdicts):
        number, words = verdicts[f"defect.{n}.item"], verdicts[f"defect.{n}"]
        if words.value and not number.value:
            number.doubt("there are words on this line and no item number")
            loose_lines.append(n)
        if number.value and not words.value:
            words.doubt(f"item number {number.value} stands here without words")
        item = by_number.get(str(number.value)) if number.value else None
        if item is None:
            if number.value:
                loose_lines.append(n)
            continue
        named.add(item.name)
        answer = verdicts[f"item.{item.name}"]
        if answer.value != "defect":
            said = {"ok": "answered OK", "na": "answered N/A"}.get(str(answer.value), "not answered")
            number.doubt(f"this line names item {item.number}, which is {said}")
            answer.doubt(f"defect line {n} names this item, which is {said}")
    if len(loose_lines) >= len(_without_line(verdicts, template, named)):
        return  # every defect may have its line; the doubt stands at the lines' numbers
    for name, number_of_item in _without_line(verdicts, template, named):
        verdicts[f"item.{name}"].doubt(
            f"answered Defect, and no defect line says what is wrong with item {number_of_item}"
        )


def line_numbers(verdicts: dict[str, Verdict]) -> list[str]:
    """The numbers of the sheet's defect lines, in order."""
    return sorted({field_id.split(".")[1] for field_id in verdicts if field_id.startswith("defect.")}, key=int)


def _without_line(verdicts: dict[str, Verdict], template: Template, named: set[str]) -> list[tuple[str, int]]:
    return [
        (item.name, item.number)
        for item in template.items
        if verdicts[f"item.{item.name}"].value == "defect" and item.name not in named
    ]


def signed(verdicts: dict[str, Verdict]) -> None:
    """A sheet nobody signed is doubtful."""
    signature = verdicts["signature"]
    if signature.value is False:
        signature.doubt("the sheet is not signed")


def _fit_for_use(verdicts: dict[str, Verdict], template: Template) -> None:
    fit = verdicts["fit"]
    critical = [
        item.number for item in template.items if item.critical and verdicts[f"item.{item.name}"].value == "defect"
    ]
    if fit.value is None:
        fit.doubt("neither 'fit to use' nor 'parked' is marked")
    elif fit.value == "fit" and critical:
        numbers = ", ".join(map(str, critical))
        fit.doubt(f"marked fit to use with a defect on safety-critical item {numbers}")


def workshop(verdicts: dict[str, Verdict]) -> None:
    """What the workshop closes has words, a date and a signature."""
    for field_id, verdict in verdicts.items():
        line = field_id.removesuffix(".repair")
        if line != field_id and verdict.value is not None and not verdicts[line].value:
            verdict.doubt("the workshop's answer stands on a line without words")
    closing = any(
        verdict.value is not None
        for field_id, verdict in verdicts.items()
        if field_id.startswith("defect.") and field_id.endswith(".repair")
    )
    date, signature = verdicts["workshop.date"], verdicts["workshop.signature"]
    if closing and date.value is None:
        date.doubt("the workshop closed a defect and wrote no date")
    if closing and signature.value is False:
        signature.doubt("the workshop closed a defect and did not sign")
    if not closing and signature.value is True:
        signature.doubt("there is ink where the workshop signs, and no line is marked as closed; it may be dirt")
