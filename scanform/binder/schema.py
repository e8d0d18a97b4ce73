"""The tables of the record, and its schema version. What they hold must follow from the journal alone."""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    text,
)

__all__ = [
    "DEFECT_SAID",
    "ENTRY_WRITTEN",
    "JOURNAL_GUARDS",
    "OUTGROWN_INDEXES",
    "PAGE_OF_ENTRY",
    "SCHEMA_VERSION",
    "batch",
    "calendar",
    "closing",
    "crew",
    "decision",
    "field",
    "journal",
    "meta",
    "metadata",
    "page",
    "password",
    "person",
    "setting",
    "spot_check",
    "template",
    "template_item",
    "unit",
    "waiting",
    "word",
]

SCHEMA_VERSION = 5  # goes up with every change to the tables or to the bodies of journal entries

metadata = MetaData()

meta = Table(
    "meta",
    metadata,
    Column("key", String, primary_key=True),
    Column("value", String, nullable=False),
)

# The page that an entry is about, NULL if about none; a query has to say it in these words for the index to serve it.
PAGE_OF_ENTRY = "CASE WHEN json_valid(body) THEN json_extract(body, '$.page') END"

journal = Table(
    "journal",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("at", String, nullable=False),
    Column("kind", String, nullable=False),
    Column("body", Text, nullable=False),  # RFC 8785 canonical JSON
    Column("previous_hash", String(64), nullable=False),
    Column("hash", String(64), nullable=False),
    Index("journal_page", text(PAGE_OF_ENTRY)),
)

batch = Table(
    "batch",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("begun_at", String, nullable=False),
    Column("sources", JSON, nullable=False),
    Column("ended_at", String),
    Column("pages_in", Integer),
    Column("more_sheets", Integer),  # sheets found beside another in one picture; None if closed before version 3
    Column("pages", JSON),  # page ids in input order, pages known from earlier batches included
    Column("balance", JSON),
)

page = Table(
    "page",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("batch_id", Integer, ForeignKey("batch.id")),
    Column("source", String, nullable=False),
    Column("source_path", String, nullable=False),
    Column("page_number", Integer, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("outcome", String, nullable=False),
    Column("reason", Text),
    Column("template", String),
    Column("version", Integer),
    Column("serial", String),
    Column("unit", String),
    Column("date", String),
    Column("width_px", Integer),
    Column("height_px", Integer),
    Column("residual_mm", Float),
    Column("ink_signature", LargeBinary),
    Column("part", Integer, nullable=False, default=1),  # 1, but for further sheets in the same picture
    Column("parts", Integer, nullable=False, default=1),  # how many sheets the picture has
    UniqueConstraint("sha256", "page_number", "source_path", "part"),
    Index("page_serial", "serial"),
    Index("page_unit_date", "unit", "date"),
    Index("page_batch", "batch_id"),
    # In the order in which pages are shown, with all that they are found by: neither sorting nor counting opens a row.
    Index("page_found", "date", "outcome", "unit", "template", "serial"),
    # Lists go by these columns alone; the rows themselves carry ink signatures of some kilobytes.
    Index("page_filed", "outcome", "unit", "date", "template", "version", "serial"),
)

# Lists over a hundred thousand sheets need one field in fifty. SQLite takes a partial index only for a query that
# repeats its condition word for word, so both are written once, here.
DEFECT_SAID = "value = 'defect'"
ENTRY_WRITTEN = "value IS NOT NULL AND kind NOT IN ('choice', 'mark')"

# ``read_*`` is what the machine said and never changes; ``value`` and ``state`` are what holds now.
field = Table(
    "field",
    metadata,
    Column("page_id", Integer, ForeignKey("page.id"), primary_key=True),
    Column("position", Integer, nullable=False),
    Column("field_id", String, primary_key=True),
    Column("kind", String, nullable=False),
    Column("critical", Boolean, nullable=False),
    Column("value", Text),
    Column("state", String, nullable=False),
    Column("read_value", Text),
    Column("read_state", String, nullable=False),
    Column("read_confidence", Float, nullable=False),
    Column("reasons", Text, nullable=False),  # JSON list of sentences
    Column("details", Text, nullable=False),  # JSON: polygon in 0.1 px, alternatives with probabilities
    Index("field_state_page", "state", "page_id"),
    Index(
        "field_defect",
        "page_id",
        "field_id",
        "state",
        "critical",
        sqlite_where=text(DEFECT_SAID),
        postgresql_where=text(DEFECT_SAID),
    ),
    Index(
        "field_entry",
        "field_id",
        "page_id",
        "value",
        "state",
        sqlite_where=text(ENTRY_WRITTEN),
        postgresql_where=text(ENTRY_WRITTEN),
    ),
)

# One row a decision of a person; ``undone_by`` is the journal entry that took it back.
decision = Table(
    "decision",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("page_id", Integer, ForeignKey("page.id"), nullable=False),
    Column("field_id", String, nullable=False),
    Column("at", String, nullable=False),
    Column("initials", String, nullable=False),
    Column("old_value", Text),
    Column("old_state", String, nullable=False),
    Column("new_value", Text),
    Column("new_state", String, nullable=False),
    Column("old_unit", String),
    Column("old_date", String),
    Column("undone_by", Integer),
    Index("decision_field", "page_id", "field_id"),
)

# Accepted fields that a person is to read without being shown the reading; the answer is the field's decision.
spot_check = Table(
    "spot_check",
    metadata,
    Column("page_id", Integer, ForeignKey("page.id"), primary_key=True),
    Column("field_id", String, primary_key=True),
)

# What waits for a person, in the order in which it is lent out; kept in step with the fields' states. Who has a field
# on loan (``lent_to``) and until when (``lent_until``, seconds since 1970) is no part of the record.
waiting = Table(
    "waiting",
    metadata,
    Column("page_id", Integer, ForeignKey("page.id"), primary_key=True),
    Column("field_id", String, primary_key=True),
    Column("urgency", String, nullable=False),  # sorts as text
    Column("sort", String, nullable=False),
    Column("critical", Boolean, nullable=False),
    Column("spot_check", Boolean, nullable=False),
    Column("lent_to", String),
    Column("lent_until", Float),
    Index("waiting_order", "urgency", "page_id", "field_id"),
)

# Who may come to the desk; ``role`` is None for those who no longer may.
person = Table(
    "person",
    metadata,
    Column("initials", String, primary_key=True),
    Column("name", String, nullable=False),
    Column("role", String),
)

# Argon2id hashes, apart from the rest because the journal does not carry them.
password = Table(
    "password",
    metadata,
    Column("initials", String, ForeignKey("person.initials", deferrable=True, initially="DEFERRED"), primary_key=True),
    Column("hash", String, nullable=False),
)

# What a person says closed a defect, beside the workshop's block on paper. ``field_id`` names one report of it: the
# line, or the item's answer. ``undone_by`` is the journal entry that took it back.
closing = Table(
    "closing",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("page_id", Integer, ForeignKey("page.id"), nullable=False),
    Column("field_id", String, nullable=False),
    Column("at", String, nullable=False),
    Column("initials", String, nullable=False),
    Column("repair", String, nullable=False),  # repaired or not-needed
    Column("closed_on", String, nullable=False),
    Column("closed_by", String, nullable=False),
    Column("paper", String, nullable=False),
    Column("undone_by", Integer),
)

# Days on which a unit was or was not in use, as the office knows them; unit "*" stands for every unit.
calendar = Table(
    "calendar",
    metadata,
    Column("unit", String, primary_key=True),
    Column("day", String, primary_key=True),
    Column("in_use", Boolean, nullable=False),
    Column("note", String),
)

setting = Table(
    "setting",
    metadata,
    Column("key", String, primary_key=True),
    Column("value", Text, nullable=False),  # RFC 8785 canonical JSON
)

unit = Table(
    "unit",
    metadata,
    Column("unit", String, primary_key=True),
    Column("kind", String),
    Column("hours", String),
    Column("hours_on", String),
)

crew = Table("crew", metadata, Column("name", String, primary_key=True))

# The site's own words beside the trade's.
word = Table(
    "word",
    metadata,
    Column("word", String, primary_key=True),
    Column("category", String, primary_key=True),
    Column("normal", String, nullable=False),
)

template = Table(
    "template",
    metadata,
    Column("template", String, primary_key=True),
    Column("version", Integer, primary_key=True),
    Column("title", String, nullable=False),
)

template_item = Table(
    "template_item",
    metadata,
    Column("template", String, primary_key=True),
    Column("version", Integer, primary_key=True),
    Column("item", String, primary_key=True),
    Column("number", Integer, nullable=False),
    Column("text", String, nullable=False),
    Column("critical", Boolean, nullable=False),
)

OUTGROWN_INDEXES = ("field_state",)  # of earlier versions, each contained in one that there is now

# The database itself refuses to rewrite history; whoever drops these is still caught by the hash chain.
JOURNAL_GUARDS = (
    "CREATE TRIGGER journal_keeps_entries BEFORE DELETE ON journal "
    "BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END",
    "CREATE TRIGGER journal_keeps_words BEFORE UPDATE ON journal "
    "BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END",
)
