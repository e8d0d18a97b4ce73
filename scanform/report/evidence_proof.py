"""What the evidence pack's PDF says of its own worth: who decided what, what is not there, how sure the rest is."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from reportlab.platypus import Flowable

from scanform.binder import VOID
from scanform.report.evidence import Evidence
from scanform.report.evidence_paper import ALARM, HEADING, SMALL, paragraph, table
from scanform.report.frames import rows
from scanform.report.retention import RULES
from scanform.report.wording import counted, value_in_words

__all__ = ["decisions", "how_sure", "not_legible"]


def decisions(evidence: Evidence) -> list[Flowable]:
    """Who confirmed or corrected what."""
    made = sorted((d for some in evidence.decisions.values() for d in some), key=lambda d: d.seq)
    parts: list[Flowable] = [paragraph("Who confirmed what", HEADING)]
    if not made:
        return [*parts, paragraph("Nobody has confirmed or corrected a field of these sheets yet.")]
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
    return [*parts, table(("entry", "when (UTC)", "who", "field", "before", "after"), body, (12, 26, 10, 34, 44, 44))]


def not_legible(evidence: Evidence) -> list[Flowable]:
    """What waits for a person, pages that never became a sheet, and void sheets."""
    parts: list[Flowable] = [paragraph("What was not legible", HEADING)]
    doubtful = evidence.doubtful
    parts.append(
        paragraph(
            f"{counted(doubtful, 'field')} of these sheets are doubtful and wait for a person; each is shown above."
        )
    )
    if len(evidence.unread):
        parts.append(
            paragraph("Pages that never became a sheet; whose they are nobody knows, so they stand in every pack:")
        )
        body = [[str(r.page_id), r.source, str(r.page), r.outcome, r.reason or ""] for r in rows(evidence.unread)]
        parts.append(table(("page", "file", "its page", "outcome", "why"), body, (12, 50, 12, 24, 70)))
    else:
        parts.append(paragraph("No page of the whole record is unreadable or of an unknown form."))
    if len(evidence.void):
        parts += [
            paragraph("Sheets that were void", HEADING),
            paragraph("A person has said that these sheets as a whole are void, so nothing on them counts:"),
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
            table(("sheet", "unit", "day", "file", "its page", "why, and who"), void, (12, 14, 18, 40, 12, 70))
        )
    return parts


def how_sure(evidence: Evidence) -> list[Flowable]:
    """The bound on errors, the check of the record, and how long the sheets are kept."""
    verified = evidence.verified
    parts: list[Flowable] = [
        paragraph("How sure the accepted fields are", HEADING),
        paragraph(f"In the whole record: {evidence.trust.sentence}."),
        paragraph(
            "A spot check is an accepted field, chosen by a hash of its page, that a person reads without being shown "
            "what the machine read. The bound is exact (Clopper and Pearson, one-sided).",
            SMALL,
        ),
        paragraph("The record against its journal", HEADING),
        paragraph(
            f"{verified.entries:,} journal entries were checked from the first to the last, each by the hash of the "
            f"one before (RFC 8785 canonical JSON, SHA-256); {verified.pages:,} sheets and {verified.files:,} scanned "
            "files of this pack were compared with them, and of the whole record all closings, decisions, calendar "
            "days, items, spot checks and lists, and under which unit and day every page is filed. "
            + ("Nothing is wrong." if verified.sound else "PROBLEMS:")
        ),
        *(paragraph(problem, ALARM) for problem in verified.problems),
        paragraph(f"Hash of the last entry: {verified.head_hash}", SMALL),
        paragraph("How long these sheets are kept", HEADING),
        paragraph(RULES),
    ]
    parts += [paragraph(f"{counted(count, 'sheet')}: {rule}") for rule, count in _most_first(evidence.keep)]
    return parts


def _most_first(counts: Mapping[str, int]) -> list[tuple[str, int]]:
    return sorted(counts.items(), key=lambda pair: (-pair[1], pair[0]))
