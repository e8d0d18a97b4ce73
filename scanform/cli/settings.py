"""``scanform settings``: how many silent errors a binder allows, and how many fields it has checked."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated

import typer

from scanform.binder import Settings, open_binder
from scanform.cli.options import BinderFolder, say
from scanform.errors import UsageError
from scanform.settle import FAMILIES, calibration

__all__ = ["settings"]

_AS_INSTALLED = "installed"


def settings(
    binder: BinderFolder,
    silent_errors: Annotated[
        str | None,
        typer.Option(
            help="Accepted unit, date and hours fields that may be wrong, such as 1/2000 or 0.0005; other fields move "
            "in proportion. 'installed' goes back to what came with scanform."
        ),
    ] = None,
    spot_checks: Annotated[
        str | None, typer.Option(help="Share of accepted fields to check, such as 1/100 or 0.01; 0 for none.")
    ] = None,
    fitted_thresholds: Annotated[
        bool, typer.Option("--fitted-thresholds", help="Drop the site's own thresholds; take the installed ones.")
    ] = False,
    initials: Annotated[
        str | None, typer.Option(help="Yours, one to four letters, needed for a change; they stand in the journal.")
    ] = None,
) -> None:
    """Show what a binder is set to, or change it; every change is in the journal with the value before.

    A smaller share of silent errors leaves more doubts. Changes hold for pages read from then on.
    """
    changes = silent_errors is not None or spot_checks is not None or fitted_thresholds
    if changes and initials is None:
        raise UsageError("Who changes this? Give --initials, such as --initials AB; they stand in the journal.")
    with open_binder(binder) as record:
        who = initials or ""
        if silent_errors is not None:
            record.set_silent_error_target(None if silent_errors == _AS_INSTALLED else _share(silent_errors), who)
        if spot_checks is not None:
            record.set_spot_check_share(_share(spot_checks), who)
        if fitted_thresholds:
            record.set_thresholds({}, who)
        _show(record.settings())


def _show(now: Settings) -> None:
    installed = calibration().silent_error_target
    target = now.silent_error_target if now.silent_error_target is not None else installed
    whose = "as installed" if now.silent_error_target is None else f"installed: {_in_words(installed)}"
    say(f"Silent errors among accepted unit, date and hours fields: at most {_in_words(target)} ({whose})")
    say(f"Spot checks: {_in_words(now.spot_check_share) if now.spot_check_share else 'no'} accepted fields")
    for family, threshold in now.thresholds.items():
        say(f"Own threshold for {FAMILIES.get(family, family)}: {threshold:.6f}")
    if not now.thresholds:
        say("Thresholds: as installed (scanform thresholds looks whether your own fields say otherwise)")


def _in_words(share: float) -> str:
    return f"1 in {1 / share:,.0f}"


def _share(text: str) -> float:
    try:
        return float(Fraction(text.strip().replace(" ", "")))
    except (ValueError, ZeroDivisionError):
        raise UsageError(f"'{text}' is no share; write it as 1/2000 or 0.0005.") from None
