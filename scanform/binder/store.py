"""The database under a binder: opening, creating, and transactions that belong to one writer at a time."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, insert, inspect, select, update
from sqlalchemy.exc import DatabaseError, IntegrityError, ProgrammingError
from sqlalchemy.schema import CreateIndex

from scanform.binder import journal
from scanform.binder.archive import PAGES
from scanform.binder.protected import connect_protected, is_protected
from scanform.binder.schema import JOURNAL_GUARDS, OUTGROWN_INDEXES, SCHEMA_VERSION, batch, meta, metadata, page
from scanform.binder.turn import TURN
from scanform.binder.views import make_views
from scanform.binder.waiting import fill_waiting
from scanform.errors import BinderError
from scanform.files import sync_folder, told

__all__ = ["RECORD", "jotting", "open_store", "reading", "writing"]

RECORD = "record.sqlite"

# Long enough for another process to commit a page and sync it to a slow network drive.
BUSY_TIMEOUT_MS = 30_000
_NO_ROOM = ("SQLITE_FULL", "SQLITE_IOERR_SHMSIZE")  # the second: no room for the index of the write-ahead log
_OWN_NAMES = {RECORD, f"{RECORD}-wal", f"{RECORD}-shm", f"{RECORD}-journal", PAGES, journal.HEAD, TURN}


def open_store(folder: Path, create: bool) -> Engine:
    """The engine of the binder in ``folder``, made first if it is absent and ``create`` is set.

    A binder that is write-protected can be read, and refuses to be written to. BinderError if the folder is not a
    binder, was written by a newer version, or cannot be used.
    """
    record = folder / RECORD
    if create:
        _check_may_become_binder(folder)
    elif not record.is_file():
        raise BinderError(f"{folder} is no binder: it has no {RECORD}; name a binder or read pages into a new one.")
    try:
        if create:
            (folder / PAGES).mkdir(parents=True, exist_ok=True)
        engine = _engine(record)
        if create:
            _create_tables(folder, engine)
        _check_version(folder, engine)
    except OSError as problem:
        raise BinderError(f"The binder {folder} cannot be made: {told(problem)}, then try again.") from problem
    except DatabaseError as problem:
        raise _as_binder_error(folder, problem) from problem
    return engine


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """A connection that sees one state of the record throughout."""
    with _plain_errors(engine), engine.connect() as connection, connection.begin():
        yield connection


@contextmanager
def writing(engine: Engine, folder: Path) -> Iterator[Connection]:
    """A transaction that holds the write lock from its start; on leaving, commit and note the journal's head.

    Everything written inside either lands together or not at all.
    """
    if not (folder / RECORD).is_file():  # what is open still would take the words and nobody would find them
        raise BinderError(
            f"The binder {folder} is no longer there; once its drive or network share is back run the same command "
            "again: what was recorded before is kept in it."
        )
    with _plain_errors(engine):
        with engine.connect() as connection:
            writer = connection.execution_options(begin_mode="IMMEDIATE")
            with writer.begin():
                journal.check_head(writer, folder)
                yield writer
                last = journal.head(writer)
        journal.note_head(folder, last)


@contextmanager
def jotting(engine: Engine) -> Iterator[Connection]:
    """A transaction for what is no part of the record (who looks at what): the write lock, and no journal."""
    with _plain_errors(engine), engine.connect() as connection:
        writer = connection.execution_options(begin_mode="IMMEDIATE")
        with writer.begin():
            yield writer


def _engine(record: Path, foreign_keys: str = "ON") -> Engine:
    timeout_s = BUSY_TIMEOUT_MS / 1000
    protected = is_protected(record) if record.is_file() else False
    if protected:
        engine = create_engine(f"sqlite:///{record}", creator=lambda: connect_protected(record, timeout_s))
    else:
        engine = create_engine(f"sqlite:///{record}", connect_args={"timeout": timeout_s})

    @event.listens_for(engine, "connect")
    def _prepare(dbapi_connection: Any, _record: Any) -> None:
        # The driver's own transaction handling begins late and only for some statements; ours is explicit.
        dbapi_connection.isolation_level = None
        cursor = dbapi_connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
        if not protected:
            _switch_to_wal(cursor)
            cursor.execute("PRAGMA synchronous = FULL")
        cursor.execute(f"PRAGMA foreign_keys = {foreign_keys}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(f"BEGIN {connection.get_execution_options().get('begin_mode', 'DEFERRED')}")

    return engine


def _switch_to_wal(cursor: Any) -> None:
    # The switch needs the file for itself and does not wait by busy_timeout, so two first openers may collide.
    for attempt in range(50):
        try:
            cursor.execute("PRAGMA journal_mode = WAL")
            return
        except Exception as problem:
            if "locked" not in str(problem) or attempt == 49:
                raise
            time.sleep(0.02)


def _check_may_become_binder(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise BinderError(f"{folder} is a file; name a folder for the binder.")
    if not folder.is_dir() or (folder / RECORD).is_file():
        return
    foreign = sorted(p.name for p in folder.iterdir() if p.name not in _OWN_NAMES and not p.name.startswith("."))
    if foreign:
        raise BinderError(f"{folder} is no binder and holds other files ({foreign[0]}); name a new or an empty folder.")


def _create_tables(folder: Path, engine: Engine) -> None:
    with engine.connect() as connection:
        if inspect(connection).has_table("meta"):
            return
        connection.rollback()
        writer = connection.execution_options(begin_mode="IMMEDIATE")
        with writer.begin():
            tables = inspect(writer).get_table_names()
            if "meta" in tables:  # another process was faster
                return
            if tables:
                raise BinderError(f"{folder / RECORD} is a database of something else; name another folder.")
            metadata.create_all(writer)
            make_views(writer)
            for guard in JOURNAL_GUARDS:
                writer.exec_driver_sql(guard)
            writer.execute(insert(meta), [{"key": "schema", "value": str(SCHEMA_VERSION)}])
            journal.append(writer, "binder-made", {"schema": SCHEMA_VERSION})
            head = journal.head(writer)
    journal.note_head(folder, head)
    sync_folder(folder.absolute().parent)


def _check_version(folder: Path, engine: Engine) -> None:
    with engine.connect() as connection:
        if not inspect(connection).has_table("meta"):
            raise BinderError(f"{folder} is no binder: its {RECORD} is a database of something else.")
        stored = connection.execute(select(meta.c.value).where(meta.c.key == "schema")).scalar()
    if stored is None or not stored.isdigit():
        raise BinderError(f"{folder} is no binder: its {RECORD} does not say which version it has.")
    if int(stored) > SCHEMA_VERSION:
        raise BinderError(
            f"The binder {folder} was written by a newer scanform (record version {stored}, this one knows "
            f"{SCHEMA_VERSION}); update scanform to open it."
        )
    if int(stored) < SCHEMA_VERSION and is_protected(folder / RECORD):
        raise BinderError(
            f"The binder {folder} is write-protected and of an older version of scanform; copy the whole folder to "
            "where it can be written, and open the copy: that brings it up to date."
        )
    if int(stored) < SCHEMA_VERSION:
        # A table that others refer to cannot be laid out anew while the references are enforced.
        rebuilding = _engine(folder / RECORD, foreign_keys="OFF")
        try:
            _bring_up_to_date(folder, rebuilding)
        finally:
            rebuilding.dispose()


def _bring_up_to_date(folder: Path, engine: Engine) -> None:
    """Add the tables, columns, indexes and views that an older binder lacks; what it holds stays as it is."""
    with writing(engine, folder) as connection:
        version = select(meta.c.value).where(meta.c.key == "schema")
        stored = int(connection.execute(version).scalar_one())
        if stored >= SCHEMA_VERSION:  # another process was faster
            return
        metadata.create_all(connection)
        _make_room_for_parts(connection)
        _renew_indexes(connection)
        fill_waiting(connection)
        make_views(connection)
        connection.execute(update(meta).where(meta.c.key == "schema").values(value=str(SCHEMA_VERSION)))
        journal.append(connection, "binder-brought-up-to-date", {"from": stored, "to": SCHEMA_VERSION})


def _make_room_for_parts(connection: Connection) -> None:
    """A picture may hold several sheets from version 3 on; SQLite changes what must be unique in a new table only."""
    columns = [column["name"] for column in inspect(connection).get_columns("page")]
    if page.c.part.name in columns:
        return
    kept = ", ".join(columns)
    connection.exec_driver_sql("CREATE TABLE page_before AS SELECT * FROM page")
    connection.exec_driver_sql("DROP TABLE page")
    page.create(connection)
    connection.exec_driver_sql(f"INSERT INTO page ({kept}, part, parts) SELECT {kept}, 1, 1 FROM page_before")
    connection.exec_driver_sql("DROP TABLE page_before")
    connection.exec_driver_sql(f"ALTER TABLE batch ADD COLUMN {batch.c.more_sheets.name} INTEGER")


def _renew_indexes(connection: Connection) -> None:
    # `create_all` makes the indexes of tables that it makes, and leaves those of the others alone.
    for table in metadata.sorted_tables:
        for index in sorted(table.indexes, key=lambda i: str(i.name)):
            connection.execute(CreateIndex(index, if_not_exists=True))
    for name in OUTGROWN_INDEXES:
        connection.exec_driver_sql(f"DROP INDEX IF EXISTS {name}")


@contextmanager
def _plain_errors(engine: Engine) -> Iterator[None]:
    try:
        yield
    except (IntegrityError, ProgrammingError):
        raise  # a fault in the code or a guard of the journal, nothing that the folder could cause
    except OSError as problem:
        raise BinderError(
            f"The binder {Path(str(engine.url.database)).parent} cannot be written: {told(problem)}, then run the same "
            "command again; nothing that was recorded is lost."
        ) from problem
    except DatabaseError as problem:
        raise _as_binder_error(Path(str(engine.url.database)).parent, problem) from problem


def _as_binder_error(folder: Path, problem: DatabaseError) -> BinderError:
    said = str(problem.orig)
    if getattr(problem.orig, "sqlite_errorname", None) in _NO_ROOM:
        return BinderError(
            f"The binder {folder} cannot be written: its disk is full; make room and run the same command again, "
            "nothing that was recorded is lost."
        )
    if "disk I/O" in said:
        return BinderError(
            f"The binder {folder} cannot be used: its disk fails to read or write; check the drive or network share "
            "and run the same command again, nothing that was recorded is lost."
        )
    if "locked" in said or "busy" in said:
        return BinderError(f"The binder {folder} is in use by another program; wait for it to finish and try again.")
    if "readonly" in said or "unable to open" in said:
        return BinderError(f"The binder {folder} cannot be written; check the folder's permissions.")
    if "not a database" in said or "malformed" in said:
        return BinderError(f"The binder {folder} cannot be opened: its {RECORD} is no intact database ({said}).")
    return BinderError(f"The binder {folder} cannot be used: {said}.")
