"""What a binder has been set to: its silent-error target, its share of spot checks, its own acceptance thresholds."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import rfc8785
from sqlalchemy import Connection, Engine, delete, insert, select

from scanform.binder import journal
from scanform.binder.schema import setting
from scanform.binder.store import reading, writing
from scanform.binder.values import checked_initials
from scanform.errors import UsageError

__all__ = ["SPOT_CHECK_SHARE", "Settings", "change_settings", "settings", "settings_in", "stored_setting"]

# One accepted field in a hundred is looked at: some forty for a hundred pages, beside two or three doubts a page.
SPOT_CHECK_SHARE = 0.01
MOST_SILENT_ERRORS = 0.05  # a target above this would accept nearly anything
MOST_SPOT_CHECKED = 1.0
MOST_SERVICE_HOURS = 50_000  # more than most machines ever run
MOST_MONTHS_KEPT = 1_200


@dataclass(frozen=True)
class Settings:
    """``silent_error_target``: accepted unit, date and hours fields that may be wrong, as a share; None for the share
    that the installed thresholds were fitted at. ``spot_check_share``: of accepted fields, queued unmarked for a
    person. ``thresholds``: those that the site found from its own confirmed fields, by family of fields.
    ``service_steps``: hours of the service steps by kind of unit, "" for all other kinds; empty for the usual ones.
    ``keep_months``: the site's own rule for how long sheets are kept, None if it has none.
    """

    silent_error_target: float | None = None
    spot_check_share: float = SPOT_CHECK_SHARE
    thresholds: Mapping[str, float] = field(default_factory=dict)
    service_steps: Mapping[str, Sequence[int]] = field(default_factory=dict)
    keep_months: int | None = None


def settings(engine: Engine) -> Settings:
    """The settings as they stand."""
    with reading(engine) as connection:
        return settings_in(connection)


def settings_in(connection: Connection) -> Settings:
    """The same inside a transaction."""
    found = {row.key: json.loads(row.value) for row in connection.execute(select(setting))}
    return Settings(**{key: value for key, value in found.items() if key in Settings.__dataclass_fields__})


def change_settings(engine: Engine, folder: Path, initials: str, **wanted: Any) -> Settings:
    """Set some of the settings; each change is a journal entry with the value before. The same again writes nothing.

    UsageError if a value cannot be one.
    """
    who = checked_initials(initials)
    for key, value in wanted.items():
        _check(key, value)
    with writing(engine, folder) as connection:
        before = settings_in(connection)
        for key, value in wanted.items():
            old = getattr(before, key)
            if old != value:
                body = {"setting": key, "old": _plain(old), "new": _plain(value), "initials": who}
                connection.execute(delete(setting).where(setting.c.key == key))
                connection.execute(insert(setting), [{"key": key, "value": stored_setting(value)}])
                journal.append(connection, "setting-changed", body)
        return settings_in(connection)


def stored_setting(value: Any) -> str:
    """A value as the table holds it: canonical JSON, so that a number has one way of being written."""
    return rfc8785.dumps(_plain(value)).decode()


def _plain(value: Any) -> Any:
    return dict(value) if isinstance(value, Mapping) else value


def _check(key: str, value: Any) -> None:
    if key == "silent_error_target":
        if value is not None and not (_is_share(value) and 0 < value <= MOST_SILENT_ERRORS):
            raise UsageError(
                f"{value} is no silent-error target; give a share above 0 and at most {MOST_SILENT_ERRORS}, "
                "such as 0.0005 or 1/2000."
            )
    elif key == "spot_check_share":
        if not (_is_share(value) and 0 <= value <= MOST_SPOT_CHECKED):
            raise UsageError(f"{value} is no share of spot checks; give a share from 0 to 1, such as 0.01 or 1/100.")
    elif key == "thresholds":
        for family, threshold in value.items():
            if not (_is_share(threshold) and 0 < threshold <= 1):
                raise UsageError(f"{threshold} is no threshold for {family}; it lies above 0 and at most at 1.")
    elif key == "service_steps":
        for kind, steps in value.items():
            if not steps or any(not isinstance(step, int) or not 1 <= step <= MOST_SERVICE_HOURS for step in steps):
                raise UsageError(
                    f"{list(steps)} are no service steps for {kind or 'all kinds'}; give whole hours from 1 to "
                    f"{MOST_SERVICE_HOURS}, such as 250,500,1000,2000."
                )
    elif key == "keep_months":
        if value is not None and not (isinstance(value, int) and 1 <= value <= MOST_MONTHS_KEPT):
            raise UsageError(f"{value} are no months to keep sheets; give 1 to {MOST_MONTHS_KEPT}, or none.")
    else:
        raise UsageError(f"A binder has no setting '{key}'.")


def _is_share(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
