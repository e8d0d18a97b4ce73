"""The evidence pack's PDF: text that can be selected, every figure with the sheet and place that it comes from."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import timedelta
from pathlib import Path
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Image, KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table

from scanform.binder import VOID
from scanform.form.typeface import MM_PER_PT, wrapped
from scanform.report.calendar_picture import calendar_picture
from scanform.report.cautions import CAUTION, DOUBTS_CAUTION
from scanform.report.evidence import Evidence
from scanform.report.frames import rows
from scanform.report.hours_picture import hours_picture
from scanform.report.look import BOLD, DANGER, FAINT, INK, MUTED, REGULAR, fonts, printable
from scanform.report.register import Defect
from scanform.report.retention import RULES
from scanform.report.sheet_story import FieldStory, SheetStory
from scanform.report.unit_days import DELETED, Coverage
from scanform.report.wording import counted, dates_in_words, state_in_words, value_in_words

__all__ = ["evidence_pdf"]

_SIDE = 40.0
_ROOM = A4[0] - 2 * _SIDE
_MOST_DAYS_ACROSS = 20  # of one calendar picture
_INK_WIDE, _INK_TALL = 150.0, 30.0
_LOOSE = (
    "They may be of these days and units: nobody has said yet whose they are, or of which day. What stands on them may "
    "fill a gap, or be a defect of this unit's."
)

_PLAIN = ParagraphStyle("plain", fontName=REGULAR, fontSize=8.5, leading=11, textColor=INK, alignment=TA_LEFT)
_SMALL = ParagraphStyle("small", parent=_PLAIN, fontSize=7, leading=9, textColor=MUTED)
_CELL = ParagraphStyle("cell", parent=_PLAIN, fontSize=7.5, leading=9.5)
_STRONG = ParagraphStyle("strong", parent=_PLAIN, fontName=BOLD)
_ALARM = ParagraphStyle("alarm", parent=_STRONG, textColor=DANGER)
_TITLE = ParagraphStyle("title", parent=_PLAIN, fontName=BOLD, fontSize=18, leading=23)
_HEADING = ParagraphStyle(
    "heading", parent=_PLAIN, fontName=BOLD, fontSize=13, leading=17, spaceBefore=12, spaceAfter=4, keepWithNext=1
)
_SHEET = ParagraphStyle("sheet", parent=_PLAIN, fontName=BOLD, fontSize=10, leading=13, spaceBefore=8, keepWithNext=1)


def evidence_pdf(evidence: Evidence, stories: Iterable[SheetStory]) -> bytes:
    """The PDF's bytes. ``stories``: the pack's sheets in its order, those without a unit or a date last."""
    fonts()
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out,
        pagesize=A4,
        leftMargin=_SIDE,
        rightMargin=_SIDE,
        topMargin=44,
        bottomMargin=52,
        title=f"Evidence: {evidence.title}",
        creator="scanform",
        initialFontName=REGULAR,
        invariant=1,
    )
    parts: list[Flowable] = [*_front(evidence), *_coverage(evidence), *_defects(evidence), *_hours(evidence)]
    parts += [_p("Every sheet", _HEADING)]
    for story in stories:
        if story.number in evidence.loose[:1]:
            parts += [_p("Sheets without a unit or a date", _HEADING), _p(_LOOSE)]
        parts += _sheet(story)
    parts += [*_decisions(evidence), *_not_legible(evidence), *_how_sure(evidence)]
    foot = _foot(f"Evidence: {evidence.title}")
    document.build(parts, onFirstPage=foot, onLaterPages=foot)
    return out.getvalue()


def _p(text: str, style: ParagraphStyle = _PLAIN) -> Paragraph:
    """Text as it stands, whatever signs are in it."""
    return Paragraph(escape(printable(text)), style)


def _foot(title: str) -> Callable[[Canvas, SimpleDocTemplate], None]:
    def draw(canvas: Canvas, document: SimpleDocTemplate) -> None:
        canvas.saveState()
        canvas.setFont(REGULAR, 7)
        canvas.setFillColor(MUTED)
        canvas.drawString(_SIDE, 34, printable(title))
        canvas.drawRightString(A4[0] - _SIDE, 34, f"page {document.page}")
        canvas.setFont(BOLD, 6.5)
        for row, line in enumerate(wrapped(CAUTION, 6.5, _ROOM * MM_PER_PT, bold=True)):
            canvas.drawString(_SIDE, 25 - 8 * row, line)
        canvas.restoreState()

    return draw


def _table(head: Sequence[str], body: Sequence[Sequence[Flowable | str]], widths: Sequence[float]) -> Table:
    cells = [[_p(h, _SMALL) for h in head]]
    cells += [[c if isinstance(c, Flowable) else _p(c, _CELL) for c in row] for row in body]
    scale = _ROOM / sum(widths)
    table = Table(cells, colWidths=[w * scale for w in widths], repeatRows=1, hAlign="LEFT")
    table.setStyle(
        [
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, FAINT),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            *(("LEFTPADDING", (0, 0), (-1, -1), 2), ("RIGHTPADDING", (0, 0), (-1, -1), 4)),
            *(("TOPPADDING", (0, 0), (-1, -1), 1.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 2)),
        ]
    )
    return table


def _front(evidence: Evidence) -> list[Flowable]:
    verified = evidence.verified
    sound = "sound" if verified.sound else f"NOT SOUND: {counted(len(verified.problems), 'problem')}, listed at the end"
    loose = f", and {len(evidence.loose)} without a unit or a date that may be of them" if evidence.loose else ""
    what = f"{counted(len(evidence.sheets), 'sheet')}{loose}"
    return [
        _p("Evidence from machine check sheets", _TITLE),
        Spacer(1, 4),
        _p(evidence.title, ParagraphStyle("what", parent=_TITLE, fontSize=14, leading=18)),
        Spacer(1, 6),
        _p(f"Made on {evidence.made_on}. {what}. The record was checked: {sound}."),
        _p(f"Journal of {verified.entries:,} entries; the last one's hash is {verified.head_hash}.", _SMALL),
        Spacer(1, 6),
        _p(CAUTION, _STRONG),
        _p(DOUBTS_CAUTION, _STRONG),
        _p(
            "A sheet is named by its number in the record, a field by that number and the field's name, such as "
            "30.hours. The folder beside this PDF holds every field with its corners in pixels of the scanned page "
            "(fields.csv), a picture of every page (pages/), the ink of every doubtful or confirmed field (ink/), and "
            "SHA256SUMS, by which anybody can check all of it with sha256sum -c. The SHA-256 beside a sheet is that of "
            "the scanned file."
        ),
    ]


def _coverage(evidence: Evidence) -> list[Flowable]:
    found: Coverage = evidence.coverage
    parts: list[Flowable] = [_p("Coverage", _HEADING), _p(f"{found.in_words()}.", _STRONG)]
    parts += [_p(note) for note in found.notes]
    for stretch in _stretches(found):
        picture = calendar_picture(stretch)
        factor = min(1.0, _ROOM / picture.width)
        picture.width, picture.height = picture.width * factor, picture.height * factor
        picture.scale(factor, factor)
        parts += [Spacer(1, 4), picture]
    missing = [[day.unit, str(day.day), day.note or day.status] for day in found.missing]
    if missing:
        parts += [_p("Days without a sheet", _STRONG), _table(("unit", "day", "what is known"), missing, (14, 18, 90))]
    waiting = [[day.unit, str(day.day), day.status, day.waits] for day in found.waiting]
    if waiting:
        parts += [
            _p("Days of which that is no fact yet", _STRONG),
            _table(("unit", "day", "as it stands", "what is to be looked at"), waiting, (14, 18, 20, 90)),
        ]
    deleted = [[day.unit, str(day.day), day.note] for day in found.days if day.basis == DELETED]
    if deleted:
        parts += [
            _p("Days whose sheet was deleted by rule", _STRONG),
            _table(("unit", "day", "what the journal says"), deleted, (14, 18, 90)),
        ]
    if evidence.loose:
        numbers = ", ".join(map(str, evidence.loose))
        parts.append(
            _p(f"Without a unit or a date, so any of them may fill a gap: {_sheets(evidence.loose)} {numbers}.")
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
    parts: list[Flowable] = [_p("Defects and their lives", _HEADING)]
    if not evidence.defects:
        return [*parts, _p("No defect was reported in these days, and none from before was open.")]
    for defect in evidence.defects:
        parts.append(KeepTogether(_defect(defect)))
    return parts


def _defect(defect: Defect) -> list[Flowable]:
    danger = {True: "SAFETY-CRITICAL. ", False: "", None: "ITEM UNCLEAR. "}[defect.critical]
    item = f"item {defect.item_number} {defect.item_text}" if defect.item_number else "item unclear"
    head = f"{defect.name}: {danger}{defect.unit or '?'}, {item}: {defect.words or 'no words'}"
    parts: list[Flowable] = [_p(head, _SHEET), _p(state_in_words(defect), _STRONG if defect.is_open else _PLAIN)]
    if defect.recurrence_of:
        parts.append(_p(f"It came back after {defect.recurrence_of} had been closed."))
    if defect.used_on:
        parts.append(_p(f"Used with it open on {dates_in_words(defect.used_on)}.", _ALARM))
    if defect.perhaps_used_on:
        perhaps = dates_in_words(defect.perhaps_used_on)
        parts.append(_p(f"No fact yet: perhaps used with it open on {perhaps}.", _STRONG))
    reports = [
        [e.ref, str(e.date or "?"), str(e.sheet), e.words or "(ticked, no words)", e.original or "", e.state.value]
        for e in defect.reports
    ]
    heads = ("report", "day", "sheet", "words as read", "letter by letter", "state")
    return [*parts, _table(heads, reports, (26, 18, 12, 50, 50, 18))]


def _hours(evidence: Evidence) -> list[Flowable]:
    parts: list[Flowable] = [_p("Hours", _HEADING)]
    if evidence.unit is not None and len(evidence.readings):
        parts.append(
            hours_picture(evidence.unit, evidence.readings, evidence.use, evidence.since, evidence.until, None)
        )
    strange = evidence.readings[evidence.readings["why"] != ""]
    if not len(strange):
        return [*parts, _p(f"{counted(len(evidence.readings), 'meter reading')}; none of them is impossible.")]
    table = [
        [
            *(row.unit, row.date, f"{row.hours:.1f}", f"{row.sheet}.hours" if row.sheet else "register", row.state),
            f"no fact yet, a doubt waits: {row.why}" if row.waits else row.why,
        ]
        for row in rows(strange)
    ]
    return [*parts, _table(("unit", "day", "hours", "field", "state", "why"), table, (14, 18, 14, 18, 16, 90))]


def _sheet(story: SheetStory) -> list[Flowable]:
    where = f"{story.place}; SHA-256 {story.sha256}; pages/{story.picture}"
    parts: list[Flowable] = [
        _p(f"Sheet {story.number}: {story.unit or 'unit ?'}, {story.date or 'date ?'}, {story.template}", _SHEET),
        _p(f"{where}. {story.note}", _SMALL),
        _table([name for name, _ in story.head], [[value for _, value in story.head]], [1.0] * len(story.head)),
        *(_p(line) for line in story.answers),
    ]
    kept: list[Flowable] = [KeepTogether(parts)]
    if story.defects:
        kept.append(
            _table(("field", "day", "item", "defect", "workshop", "state"), story.defects, (22, 18, 40, 60, 20, 18))
        )
    if story.looked_at:
        body = [_field_row(field) for field in story.looked_at]
        heads = ("field", "ink", "as read", "stands as", "why, and who")
        kept.append(_table(heads, body, (32, 58, 26, 26, 52)))
    return kept


def _field_row(field: FieldStory) -> list[Flowable | str]:
    ink: Flowable | str = "no picture"
    if field.ink_png is not None:
        wide, tall = field.ink_size
        factor = min(_INK_WIDE / wide, _INK_TALL / tall)
        ink = Image(io.BytesIO(field.ink_png), wide * factor, tall * factor)
    label = f"{field.ref} {field.label}".strip()
    return [label, ink, f"{value_in_words(field.read)} ({field.confidence:.3f})", field.stands, field.why]


def _decisions(evidence: Evidence) -> list[Flowable]:
    made = sorted((d for some in evidence.decisions.values() for d in some), key=lambda d: d.seq)
    parts: list[Flowable] = [_p("Who confirmed what", _HEADING)]
    if not made:
        return [*parts, _p("Nobody has confirmed or corrected a field of these sheets yet.")]
    body = [
        [
            str(d.seq),
            f"{d.at:%Y-%m-%d %H:%M}",
            d.initials,
            d.ref,
            f"{value_in_words(d.old_value)} ({d.old_state.value})",
            value_in_words(d.new_value) + (f"; taken back by entry {d.undone_by}" if d.undone_by else ""),
        ]
        for d in made
    ]
    return [*parts, _table(("entry", "when (UTC)", "who", "field", "before", "after"), body, (12, 26, 10, 34, 44, 44))]


def _not_legible(evidence: Evidence) -> list[Flowable]:
    parts: list[Flowable] = [_p("What was not legible", _HEADING)]
    doubtful = evidence.doubtful
    parts.append(
        _p(f"{counted(doubtful, 'field')} of these sheets are doubtful and wait for a person; each is shown above.")
    )
    if len(evidence.unread):
        parts.append(_p("Pages that never became a sheet; whose they are nobody knows, so they stand in every pack:"))
        body = [[str(r.page_id), r.source, str(r.page), r.outcome, r.reason or ""] for r in rows(evidence.unread)]
        parts.append(_table(("page", "file", "its page", "outcome", "why"), body, (12, 50, 12, 24, 70)))
    else:
        parts.append(_p("No page of the whole record is unreadable or of an unknown form."))
    if len(evidence.void):
        parts += [
            _p("Sheets that were void", _HEADING),
            _p("A person has said that these sheets as a whole are void, so nothing on them counts:"),
        ]
        void = [
            [
                str(r.page_id),
                r.unit or "?",
                r.date or "?",
                Path(r.source).name,
                str(r.page),
                r.reason.removeprefix(VOID),
            ]
            for r in rows(evidence.void)
        ]
        parts.append(
            _table(("sheet", "unit", "day", "file", "its page", "why, and who"), void, (12, 14, 18, 40, 12, 70))
        )
    return parts


def _how_sure(evidence: Evidence) -> list[Flowable]:
    verified = evidence.verified
    parts: list[Flowable] = [
        _p("How sure the accepted fields are", _HEADING),
        _p(f"In the whole record: {evidence.trust.sentence}."),
        _p(
            "A spot check is an accepted field, chosen by a hash of its page, that a person reads without being shown "
            "what the machine read. The bound is exact (Clopper and Pearson, one-sided).",
            _SMALL,
        ),
        _p("The record against its journal", _HEADING),
        _p(
            f"{verified.entries:,} journal entries were checked from the first to the last, each by the hash of the "
            f"one before (RFC 8785 canonical JSON, SHA-256); {verified.pages:,} sheets and {verified.files:,} scanned "
            "files of this pack were compared with them, and of the whole record all closings, decisions, calendar "
            "days, items, spot checks and lists, and under which unit and day every page is filed. "
            + ("Nothing is wrong." if verified.sound else "PROBLEMS:")
        ),
        *(_p(problem, _ALARM) for problem in verified.problems),
        _p(f"Hash of the last entry: {verified.head_hash}", _SMALL),
        _p("How long these sheets are kept", _HEADING),
        _p(RULES),
    ]
    parts += [_p(f"{counted(count, 'sheet')}: {rule}") for rule, count in _most_first(evidence.keep)]
    return parts


def _most_first(counts: Mapping[str, int]) -> list[tuple[str, int]]:
    return sorted(counts.items(), key=lambda pair: (-pair[1], pair[0]))
