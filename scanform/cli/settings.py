"""``scanform settings``: how many silent errors a binder allows, and how many fields it has checked."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction
from typing import Annotated

import typer

from scanform.binder import Settings, open_binder
from scanform.cli.options import BinderFolder, say
from scanform.errors import UsageError
from scanform.report import USUAL_STEPS
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
    service_steps: Annotated[
        list[str] | None,
        typer.Option(
            help="Service steps in meter hours, such as 250,500,1000,2000, or for one kind of unit forklift=200,400; "
            "may be given more than once, 'usual' goes back to the usual ones."
        ),
    ] = None,
    keep_months: Annotated[
        str | None, typer.Option(help="Months that the site keeps every sheet at the least; 'none' for no own rule.")
    ] = None,
    initials: Annotated[
        str | None, typer.Option(help="Yours, one to four letters, needed for a change; they stand in the journal.")
    ] = None,
) -> None:
    """Show what a binder is set to, or change it; every change is in the journal with the value before.

    A smaller share of silent errors leaves more doubts. Changes hold for pages read from then on.
    """
    changes = any(asked is not None for asked in (silent_errors, spot_checks, service_steps, keep_months))
    changes = changes or fitted_thresholds
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
        if service_steps is not None:
            steps = _steps(record.settings().service_steps, service_steps)
            _check_kinds(steps, {unit.kind for unit in record.units() if unit.kind})
            record.set_service_steps(steps, who)
        if keep_months is not None:
            record.set_keep_months(None if keep_months == "none" else _whole(keep_months), who)
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

    for kind, steps in (now.service_steps or {"": USUAL_STEPS}).items():
        say(f"Service steps{f' of {kind}' if kind else ''}: every {', '.join(f'{step:,}' for step in steps)} h")
    say(
        f"Sheets are kept {now.keep_months} months at the least"
        if now.keep_months
        else "No rule of the site's own for keeping"
    )


def _steps(before: Mapping[str, Sequence[int]], asked: Sequence[str]) -> dict[str, list[int]]:
    steps = {kind: list(hours) for kind, hours in before.items()}
    for text in asked:
        if text.strip() == "usual":
            steps = {}
            continue
        kind, _, hours = text.rpartition("=")
        steps[kind.strip()] = [_whole(step) for step in hours.split(",")]
    return steps


def _check_kinds(steps: Mapping[str, Sequence[int]], kinds: Collection[str]) -> None:
    """UsageError for a kind that no unit of the register is of: its machines would go by the other steps unseen."""
    unknown = sorted(kind for kind in steps if kind and kind not in kinds)
    if kinds and unknown:
        raise UsageError(
            f"--service-steps {unknown[0]}: no unit of the register is of this kind; there are "
            f"{', '.join(sorted(kinds))}."
        )


def _whole(text: str) -> int:
    try:
        return int(text.strip().replace("_", ""))
    except ValueError:
        raise UsageError(f"'{text}' is no whole number.") from None


def _in_words(share: float) -> str:
    return f"1 in {1 / share:,.0f}"


def _share(text: str) -> float:
    try:
        return float(Fraction(text.strip().replace(" ", "")))
    except (ValueError, ZeroDivisionError):
        raise UsageError(f"'{text}' is no share; write it as 1/2000 or 0.0005.") from None
