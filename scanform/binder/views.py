"""SQL views in the record, one a list, for people who bring their own tools. They hold nothing; they only show.

Open ``record.sqlite`` read-only with whatever reads SQLite. Column names are those of the exported tables. A doubtful
value is in the views as it is in the lists: with its state beside it.
"""

from __future__ import annotations

from sqlalchemy import Connection

__all__ = ["VIEWS", "make_views"]

_SAID = "(SELECT value FROM field WHERE field.page_id = page.id AND field.field_id = '{field}')"
_STATE = "(SELECT state FROM field WHERE field.page_id = page.id AND field.field_id = '{field}')"
_COUNT = "(SELECT count(*) FROM field WHERE field.page_id = page.id AND field.state = '{state}')"
# A week's field ends in its day: its item is what comes before, its date so many days after the sheet's Monday.
_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_WEEKLY = f"substr(field.field_id, -4) IN ({', '.join(repr('.' + day) for day in _DAYS)}) AND field.kind <> 'choice'"
# A month's field ends in its day too; other fields' numbers count lines.
_UNDATED = "rtrim(field.field_id, '0123456789')"
_OF_MONTH = f"CAST(substr(field.field_id, length({_UNDATED}) + 1) AS INTEGER)"
_MONTHLY = (
    f"({_UNDATED} LIKE 'item.%.' OR {_UNDATED} IN ('hours.', 'initials.')) AND field.kind <> 'choice' "
    f"AND {_OF_MONTH} BETWEEN 1 AND 31"
)
_STEM = (
    f"CASE WHEN {_WEEKLY} THEN substr(field.field_id, 1, length(field.field_id) - 4) "
    f"WHEN {_MONTHLY} THEN substr({_UNDATED}, 1, length({_UNDATED}) - 1) ELSE field.field_id END"
)
_ON = (
    f"CASE WHEN {_WEEKLY} THEN date(page.date, '+' || "
    f"((instr('{''.join(_DAYS)}', substr(field.field_id, -3)) - 1) / 3) || ' days') "
    f"WHEN {_MONTHLY} THEN date(page.date, 'start of month', '+' || ({_OF_MONTH} - 1) || ' days') ELSE page.date END"
)
_LABELLED = (
    "LEFT JOIN template_item ON template_item.template = page.template AND template_item.version = page.version "
    f"AND template_item.item = {_STEM}"
)

_BESIDE = (
    "(SELECT value FROM field AS other WHERE other.page_id = page.id AND other.field_id = field.field_id || '.{part}')"
)

VIEWS: dict[str, str] = {
    "list_sheets": (
        "SELECT page.id AS sheet, page.unit, page.date, "
        f"CAST({_SAID.format(field='hours')} AS REAL) AS hours, {_STATE.format(field='hours')} AS hours_state, "
        f"{_SAID.format(field='operator')} AS operator, {_SAID.format(field='signature')} AS signed, "
        f"{_SAID.format(field='fit')} AS fit, {_SAID.format(field='told')} AS told, page.template, page.version, "
        f"page.serial, {_COUNT.format(state='accepted')} AS accepted, {_COUNT.format(state='doubtful')} AS doubtful, "
        f"{_COUNT.format(state='confirmed')} AS confirmed, page.residual_mm, page.source, page.page_number AS page, "
        "page.part, page.sha256 FROM page WHERE page.outcome = 'read'"
    ),
    "list_answers": (
        f"SELECT page.id AS sheet, page.unit, {_ON} AS date, substr({_STEM}, 6) AS item, "
        "template_item.number AS item_number, template_item.text AS item_text, field.critical, field.value AS answer, "
        f"field.state, field.read_confidence AS confidence FROM field JOIN page ON page.id = field.page_id {_LABELLED} "
        "WHERE page.outcome = 'read' AND field.field_id LIKE 'item.%'"
    ),
    "list_hours": (
        f"SELECT page.unit, {_ON} AS date, CAST(field.value AS REAL) AS hours, field.state, "
        "field.read_confidence AS confidence, page.id AS sheet FROM field JOIN page ON page.id = field.page_id "
        "WHERE page.outcome = 'read' AND field.value IS NOT NULL "
        "AND (field.field_id = 'hours' OR field.field_id LIKE 'hours.%')"
    ),
    "list_defect_lines": (
        "SELECT page.id || '.' || field.field_id AS ref, page.unit, page.date, field.value AS words, field.state, "
        f"{_BESIDE.format(part='item')} AS item_number, {_BESIDE.format(part='repair')} AS repair "
        "FROM field JOIN page ON page.id = field.page_id WHERE page.outcome = 'read' AND field.value IS NOT NULL "
        "AND field.kind = 'text' AND field.field_id LIKE 'defect.%'"
    ),
    "list_doubts": (
        "SELECT page.id || '.' || field.field_id AS ref, field.critical, page.unit, page.date, "
        "field.field_id AS field, "
        "template_item.text AS item_text, field.value, field.read_confidence AS confidence, field.reasons, "
        f"page.source, page.page_number AS page FROM field JOIN page ON page.id = field.page_id {_LABELLED} "
        "WHERE page.outcome = 'read' AND field.state = 'doubtful'"
    ),
    "list_pages": (
        "SELECT id AS number, batch_id AS batch, source, page_number AS page, part, outcome, reason, template, "
        "version, serial, unit, date, width_px, height_px, residual_mm, sha256 FROM page"
    ),
    "list_closings": (
        "SELECT page_id || '.' || field_id AS defect, repair, closed_on, closed_by, paper, initials, at, seq AS entry, "
        "undone_by FROM closing"
    ),
    "list_decisions": (
        "SELECT seq AS entry, at, initials, page_id || '.' || field_id AS field, old_value, old_state, new_value, "
        "new_state, undone_by FROM decision"
    ),
    "list_calendar": "SELECT unit, day, in_use, note FROM calendar",
}


def make_views(connection: Connection) -> None:
    """Put the views into the record, those of an earlier version replaced."""
    for name, query in VIEWS.items():
        connection.exec_driver_sql(f"DROP VIEW IF EXISTS {name}")
        connection.exec_driver_sql(f"CREATE VIEW {name} AS {query}")
