"""The evidence pack's PDF: text that can be selected, every figure with the sheet and place that it comes from."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from datetime import timedelta

from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Image, KeepTogether, SimpleDocTemplate, Spacer

from scanform.report.calendar_picture import calendar_picture
from scanform.report.cautions import CAUTION, DOUBTS_CAUTION
from scanform.report.evidence import Evidence
from scanform.report.evidence_paper import (
    ALARM,
    HEADING,
    PLAIN,
    ROOM,
    SHEET_HEADING,
    SIDE,
    SMALL,
    STRONG,
    TITLE,
    foot,
    paragraph,
    table,
)
from scanform.report.evidence_proof import decisions, how_sure, not_legible
from scanform.report.frames import rows
from scanform.report.hours_picture import hours_picture
from scanform.report.look import REGULAR, fonts
from scanform.report.register import Defect
from scanform.report.sheet_story import FieldStory, SheetStory
from scanform.report.unit_days import DELETED, Coverage
from scanform.report.wording import counted, dates_in_words, state_in_words, value_in_words

__all__ = ["evidence_pdf"]

_MOST_DAYS_ACROSS = 20  # of one calendar picture
_INK_WIDE, _INK_TALL = 150.0, 30.0
_LOOSE = (
    "They may be of these days and units: nobody has said yet whose they are, or of which day. What stands on them may "
    "fill a gap, or be a defect of this unit's."
)


def evidence_pdf(evidence: Evidence, stories: Iterable[SheetStory]) -> bytes:
    """The PDF's bytes. ``stories``: the pack's sheets in its order, those without a unit or a date last."""
    fonts()
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out,
        pagesize=A4,
        leftMargin=SIDE,
        rightMargin=SIDE,
        topMargin=44,
        bottomMargin=52,
        title=f"Evidence: {evidence.title}",
        creator="scanform",
        initialFontName=REGULAR,
        invariant=1,
    )
    parts: list[Flowable] = [*_front(evidence), *_coverage(evidence), *_defects(evidence), *_hours(evidence)]
    parts += [paragraph("Every sheet", HEADING)]
    for story in stories:
        if story.number in evidence.loose[:1]:
            parts += [paragraph("Sheets without a unit or a date", HEADING), paragraph(_LOOSE)]
        parts += _sheet(story)
    parts += [*decisions(evidence), *not_legible(evidence), *how_sure(evidence)]
    at_foot = foot(f"Evidence: {evidence.title}")
    document.build(parts, onFirstPage=at_foot, onLaterPages=at_foot)
    return out.getvalue()


def _front(evidence: Evidence) -> list[Flowable]:
    verified = evidence.verified
    sound = "sound" if verified.sound else f"NOT SOUND: {counted(len(verified.problems), 'problem')}, listed at the end"
    loose = f", and {len(evidence.loose)} without a unit or a date that may be of them" if evidence.loose else ""
    what = f"{counted(len(evidence.sheets), 'sheet')}{loose}"
    return [
        paragraph("Evidence from machine check sheets", TITLE),
        Spacer(1, 4),
        paragraph(evidence.title, ParagraphStyle("what", parent=TITLE, fontSize=14, leading=18)),
        Spacer(1, 6),
        paragraph(f"Made on {evidence.made_on}. {what}. The record was checked: {sound}."),
        paragraph(f"Journal of {verified.entries:,} entries; the last one's hash is {verified.head_hash}.", SMALL),
        Spacer(1, 6),
        paragraph(CAUTION, STRONG),
        paragraph(DOUBTS_CAUTION, STRONG),
        paragraph(
            "A sheet is named by its number in the record, a field by that number and the field's name, such as "
            "30.hours. The folder beside this PDF holds every field with its corners in pixels of the scanned page "
            "(fields.csv), a picture of every page (pages/), the ink of every doubtful or confirmed field (ink/), and "
            "SHA256SUMS, by which anybody can check all of it with sha256sum -c. The SHA-256 beside a sheet is that of "
            "the scanned file."
        ),
    ]


def _coverage(evidence: Evidence) -> list[Flowable]:
    found: Coverage = evidence.coverage
    parts: list[Flowable] = [paragraph("Coverage", HEADING), paragraph(f"{found.in_words()}.", STRONG)]
    parts += [paragraph(note) for note in found.notes]
    for stretch in _stretches(found):
        picture = calendar_picture(stretch)
        factor = min(1.0, ROOM / picture.width)
        picture.width, picture.height = picture.width * factor, picture.height * factor
        picture.scale(factor, factor)
        parts += [Spacer(1, 4), picture]
    missing = [[day.unit, str(day.day), day.note or day.status] for day in found.missing]
    if missing:
        parts += [
            paragraph("Days without a sheet", STRONG),
            table(("unit", "day", "what is known"), missing, (14, 18, 90)),
        ]
    waiting = [[day.unit, str(day.day), day.status, day.waits] for day in found.waiting]
    if waiting:
        parts += [
            paragraph("Days of which that is no fact yet", STRONG),
            table(("unit", "day", "as it stands", "what is to be looked at"), waiting, (14, 18, 20, 90)),
        ]
    deleted = [[day.unit, str(day.day), day.note] for day in found.days if day.basis == DELETED]
    if deleted:
        parts += [
            paragraph("Days whose sheet was deleted by rule", STRONG),
            table(("unit", "day", "what the journal says"), deleted, (14, 18, 90)),
        ]
    if evidence.loose:
        numbers = ", ".join(map(str, evidence.loose))
        parts.append(
            paragraph(f"Without a unit or a date, so any of them may fill a gap: {_sheets(evidence.loose)} {numbers}.")
        )
    return parts


def _sheets(numbers: Sequence[int]) -> str:
    return "sheet" if len(numbers) == 1 else "sheets"


def _stretches(found: Coverage) -> list[Coverage]:
    """The calendar cut into pictures that fit across the page."""
    parts, since = [], found.since
    while since <= found.until:
        until = min(found.until, since + timedelta(days=_MOST_DAYS_ACROSS - 1))
        days = tuple(day for day in found.days if since <= day.day <= until)
        parts.append(Coverage(since, until, days, found.begins))
        since = until + timedelta(days=1)
    return parts


def _defects(evidence: Evidence) -> list[Flowable]:
    parts: list[Flowable] = [paragraph("Defects and their lives", HEADING)]
    if not evidence.defects:
        return [*parts, paragraph("No defect was reported in these days, and none from before was open.")]
    for defect in evidence.defects:
        parts.append(KeepTogether(_defect(defect)))
    return parts


def _defect(defect: Defect) -> list[Flowable]:
    danger = {True: "SAFETY-CRITICAL. ", False: "", None: "ITEM UNCLEAR. "}[defect.critical]
    item = f"item {defect.item_number} {defect.item_text}" if defect.item_number else "item unclear"
    head = f"{defect.name}: {danger}{defect.unit or '?'}, {item}: {defect.words or 'no words'}"
    parts: list[Flowable] = [
        paragraph(head, SHEET_HEADING),
        paragraph(state_in_words(defect), STRONG if defect.is_open else PLAIN),
    ]
    if defect.recurrence_of:
        parts.append(paragraph(f"It came back after {defect.recurrence_of} had been closed."))
    if defect.used_on:
        parts.append(paragraph(f"Used with it open on {dates_in_words(defect.used_on)}.", ALARM))
    if defect.perhaps_used_on:
        perhaps = dates_in_words(defect.perhaps_used_on)
        parts.append(paragraph(f"No fact yet: perhaps used with it open on {perhaps}.", STRONG))
    reports = [
        [e.ref, str(e.date or "?"), str(e.sheet), e.words or "(ticked, no words)", e.original or "", e.state.value]
        for e in defect.reports
    ]
    heads = ("report", "day", "sheet", "words as read", "letter by letter", "state")
    return [*parts, table(heads, reports, (26, 18, 12, 50, 50, 18))]


def _hours(evidence: Evidence) -> list[Flowable]:
    parts: list[Flowable] = [paragraph("Hours", HEADING)]
    if evidence.unit is not None and len(evidence.readings):
        parts.append(
            hours_picture(evidence.unit, evidence.readings, evidence.use, evidence.since, evidence.until, None)
        )
    strange = evidence.readings[evidence.readings["why"] != ""]
    if not len(strange):
        return [*parts, paragraph(f"{counted(len(evidence.readings), 'meter reading')}; none of them is impossible.")]
    body = [
        [
            *(row.unit, row.date, f"{row.hours:.1f}", f"{row.sheet}.hours" if row.sheet else "register", row.state),
            f"no fact yet, a doubt waits: {row.why}" if row.waits else row.why,
        ]
        for row in rows(strange)
    ]
    return [*parts, table(("unit", "day", "hours", "field", "state", "why"), body, (14, 18, 14, 18, 16, 90))]


def _sheet(story: SheetStory) -> list[Flowable]:
    where = f"{story.place}; SHA-256 {story.sha256}; pages/{story.picture}"
    parts: list[Flowable] = [
        paragraph(
            f"Sheet {story.number}: {story.unit or 'unit ?'}, {story.date or 'date ?'}, {story.template}", SHEET_HEADING
        ),
        paragraph(f"{where}. {story.note}", SMALL),
        table([name for name, _ in story.head], [[value for _, value in story.head]], [1.0] * len(story.head)),
        *(paragraph(line) for line in story.answers),
    ]
    kept: list[Flowable] = [KeepTogether(parts)]
    if story.defects:
        kept.append(
            table(("field", "day", "item", "defect", "workshop", "state"), story.defects, (22, 18, 40, 60, 20, 18))
        )
    if story.looked_at:
        body = [_field_row(field) for field in story.looked_at]
        heads = ("field", "ink", "as read", "stands as", "why, and who")
        kept.append(table(heads, body, (32, 58, 26, 26, 52)))
    return kept


def _field_row(field: FieldStory) -> list[Flowable | str]:
    ink: Flowable | str = "no picture"
    if field.ink_png is not None:
        wide, tall = field.ink_size
        factor = min(_INK_WIDE / wide, _INK_TALL / tall)
        ink = Image(io.BytesIO(field.ink_png), wide * factor, tall * factor)
    label = f"{field.ref} {field.label}".strip()
    return [label, ink, f"{value_in_words(field.read)} ({field.confidence:.3f})", field.stands, field.why]
