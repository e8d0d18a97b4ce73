"""``scanform thresholds``: acceptance thresholds from a site's own confirmed fields."""

from __future__ import annotations

from typing import Annotated

import typer

from scanform.binder import open_binder
from scanform.cli.options import BinderFolder, say
from scanform.cli.tables import Column, show_table
from scanform.errors import UsageError
from scanform.report import Proposal, per_thousand, proposals, thresholds_after
from scanform.settle import FAMILIES

__all__ = ["thresholds"]

_COLUMNS = (
    Column("fields", names=True),
    *map(Column, ("target", "spot-checked", "wrong", "threshold", "proposed")),
    Column("what would change", words=True),
)


def thresholds(
    binder: BinderFolder,
    apply: Annotated[bool, typer.Option("--apply", help="Take the proposed thresholds from now on.")] = False,
    initials: Annotated[
        str | None, typer.Option(help="Yours, one to four letters, needed with --apply; they stand in the journal.")
    ] = None,
) -> None:
    """Work out acceptance thresholds from your own paper: answered spot checks and settled doubts.

    For each sort of field the lowest threshold is proposed at which the exact upper bound (95 % confidence) of silent
    errors keeps the binder's target. Nothing changes without --apply; pages already read stay as they are.

    Too few confirmed fields give no proposal, and the list says how many are needed.
    """
    if apply and initials is None:
        raise UsageError("Who changes this? Give --initials, such as --initials AB; they stand in the journal.")
    with open_binder(binder) as record:
        found = proposals(record)
        if not found:
            raise UsageError(f"{binder}: no field is on record yet, so there is nothing to work out; read some sheets.")
        _show(found)
        told = [p for p in found if p.after is not None]
        changed = [p for p in told if p.changes]
        if not told:
            most = min((p.needed - p.checked for p in found), default=0)
            raise UsageError(
                f"{binder}: too few spot checks are answered to say anything about thresholds; at the least {most:,} "
                "more are needed, see the list above, and scanform settings --spot-checks draws more of them."
            )
        if not changed:
            say("Nothing would change.")
        elif apply:
            record.set_thresholds(thresholds_after(record, changed), initials or "")
            say(f"Applied by {(initials or '').upper()}; it holds for pages read from now on.")
        else:
            say("Nothing is changed yet; add --apply --initials AB to take these thresholds from now on.")


def _show(found: list[Proposal]) -> None:
    table = [
        (
            FAMILIES.get(one.family, one.family),
            f"1 in {1 / one.target:,.0f}",
            f"{one.checked:,}",
            str(one.wrong),
            _in_force(one.before),
            "-" if one.after is None else f"{one.after:.6f}",
            _change(one),
        )
        for one in found
    ]
    show_table(_COLUMNS, table)


def _in_force(before: tuple[float, float]) -> str:
    low, high = before
    return f"{low:.4f}" if low == high else f"{low:.4f} to {high:.4f}"


def _change(one: Proposal) -> str:
    if one.after is None:
        return (
            f"too few to tell: {one.needed:,} spot checks with {one.wrong} wrong would do, {one.checked:,} are answered"
        )
    bound = f"silent errors at most {per_thousand(one.at_most)} in 1,000"
    if not one.proven:
        bound = "more errors than the target allows were found; above this none was"
    if not one.changes:
        return f"nothing; {bound}"
    moved = [
        f"{count:,} of the fields read so far would be {state}"
        for count, state in ((one.now_doubtful, "doubtful"), (one.now_accepted, "accepted"))
        if count
    ]
    return "; ".join([*moved, bound])
