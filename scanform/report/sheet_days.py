"""Which sheet speaks for which unit and day: one a day's sheet, up to seven a week's sheet."""

from __future__ import annotations

import datetime as dt

import pandas as pd

from scanform.binder import Binder
from scanform.form import DAYS, DAYS_OF_MONTH, date_of
from scanform.report.defects import standing
from scanform.report.filled_sheets import EMPTY, FILLED, how_filled
from scanform.report.frames import rows
from scanform.settle.types import State

__all__ = ["counted_sheets", "sheet_days"]

_DAY_NUMBER = {day: number for days in (DAYS, DAYS_OF_MONTH) for number, day in enumerate(days)}


def counted_sheets(binder: Binder) -> pd.DataFrame:
    """The sheets that lists go by, as :meth:`Binder.sheet_columns` gives them.

    Of a week's sheet that was scanned on several days only the scan with most on it counts.
    """
    sheets = binder.sheet_columns()
    twice = sheets[sheets["serial"].notna() & sheets["serial"].duplicated(keep=False)]
    if twice.empty:
        return sheets
    pages = binder.pages_numbered(list(twice["sheet"]))
    dropped = {page.number for page in pages} - {page.number for page in standing(pages)}
    return sheets[~sheets["sheet"].isin(dropped)].reset_index(drop=True)


def sheet_days(
    binder: Binder, sheets: pd.DataFrame, since: dt.date | None = None, until: dt.date | None = None
) -> pd.DataFrame:
    """A row for each day that a sheet speaks for, by unit, date and sheet; sheets without unit or date are left out.

    ``sheets``: as from :func:`counted_sheets`. Columns: ``unit``, ``date`` (ISO 8601 text), ``sheet``, ``unsure``,
    ``fit`` (fit, parked or None), ``fit_unsure``; ``filled``: False for a sheet that came back empty, and on a day of a
    week's sheet without a sign, a meter reading or initials; ``sure``: whether that rests on nothing doubtful alone;
    ``frees``: whether a day that is not filled in was left free on a sheet that says something of others.
    """
    known = sheets[sheets["unit"].notna() & sheets["date"].notna()]
    if since is not None:
        first = (since - dt.timedelta(days=len(DAYS_OF_MONTH) - 1)).isoformat()  # of a month that goes on until then
        known = known[known["date"] >= first]
    if until is not None:
        known = known[known["date"] <= until.isoformat()]
    marked = binder.marked_day_columns(list(known["sheet"]))
    monthly = set(marked["sheet"][~marked["day"].isin(DAYS)])
    several = _of_several_days(binder, known) | set(marked["sheet"])
    days = _with_fit(binder, known)
    of_several = days["sheet"].isin(several)
    single = _single(binder, days[~of_several])
    whole = _own_days(binder, days[of_several], marked, monthly) if of_several.any() else single.iloc[:0]
    every = pd.concat([single, whole], ignore_index=True) if len(whole) else single
    if since is not None:
        every = every[every["date"] >= since.isoformat()]
    if until is not None:
        every = every[every["date"] <= until.isoformat()]
    columns = ["unit", "date", "sheet", "unsure", "fit", "fit_unsure", "filled", "sure", "frees"]
    return every.sort_values(["unit", "date", "sheet"])[columns].reset_index(drop=True)


def _of_several_days(binder: Binder, sheets: pd.DataFrame) -> set[int]:
    """The sheets that cover a week or a month: those that have initials or hours for its days."""
    by_the_day = binder.written_columns(["hours.", "initials."], list(sheets["sheet"]))
    return set(by_the_day["sheet"]) & set(sheets["sheet"])


def _single(binder: Binder, days: pd.DataFrame) -> pd.DataFrame:
    """A day's sheets, with how they are filled."""
    how = how_filled(binder, list(days["sheet"]))
    said = [how[int(number)] for number in days["sheet"]]
    return days.assign(
        filled=pd.Series([one != EMPTY for one in said], index=days.index, dtype=bool),
        sure=[one in (FILLED, EMPTY) for one in said],
        frees=False,
    )


def _with_fit(binder: Binder, sheets: pd.DataFrame) -> pd.DataFrame:
    said = binder.written_columns(["fit"], list(sheets["sheet"]))
    value = dict(zip(said["sheet"], said["value"], strict=True))
    state = dict(zip(said["sheet"], said["state"], strict=True))
    numbers = list(sheets["sheet"])
    return sheets[["unit", "date", "sheet", "unsure"]].assign(
        fit=pd.Series([value.get(n) for n in numbers], index=sheets.index, dtype=object),
        fit_unsure=[state.get(n, State.DOUBTFUL) == State.DOUBTFUL for n in numbers],
    )


def _own_days(binder: Binder, sheets: pd.DataFrame, marked: pd.DataFrame, monthly: set[int]) -> pd.DataFrame:
    """A row for each day of weeks' and months' sheets. ``marked``: their days with signs; ``monthly``: months' sheets.

    Whether the machine is fit for use was said of the last day with entries alone.
    """
    written = binder.written_columns(["hours.", "initials."], list(sheets["sheet"]))
    written = written[written["sheet"].isin(set(sheets["sheet"])) & (written["value"] != "false")]
    monthly = monthly | {row.sheet for row in rows(written) if row.field.rpartition(".")[2] in DAYS_OF_MONTH}
    entries: dict[tuple[int, str], bool] = {(row.sheet, row.day): row.sure for row in rows(marked)}
    for row in rows(written):
        place = (row.sheet, row.field.rpartition(".")[2])
        entries[place] = entries.get(place, False) or row.state != State.DOUBTFUL.value
    begun = {sheet for (sheet, _), sure in entries.items() if sure}
    # Without a day that is filled in: signed all the same, and every day of it left free, or never filled in at all.
    signed = how_filled(binder, [row.sheet for row in rows(sheets) if row.sheet not in begun])
    last: dict[int, int] = {}
    for sheet, day in entries:
        last[sheet] = max(last.get(sheet, 0), _DAY_NUMBER.get(day, 0))
    found = []
    for row in rows(sheets):
        first = dt.date.fromisoformat(row.date)
        for number, day in enumerate(DAYS_OF_MONTH if row.sheet in monthly else DAYS):
            on = date_of(first, day)
            if on is None:
                continue
            spoken_of = last.get(row.sheet) == number
            found.append(
                (
                    *(row.unit, on.isoformat(), row.sheet, row.unsure),
                    *(row.fit if spoken_of else None, row.fit_unsure if spoken_of else True),
                    (row.sheet, day) in entries,
                    entries.get((row.sheet, day), signed.get(row.sheet) in (None, FILLED, EMPTY)),
                    signed.get(row.sheet, FILLED) == FILLED,
                )
            )
    return pd.DataFrame(found, columns=[*sheets.columns, "filled", "sure", "frees"])
