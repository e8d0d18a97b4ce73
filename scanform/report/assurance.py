"""How wrong the accepted fields of a record may be, by what its spot checks have found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from scanform.binder import Binder, JudgedField
from scanform.binder.rows import plain_value
from scanform.settle import FAMILIES, family_of, same_value, upper_bound

__all__ = ["Assurance", "assurance", "assurance_by_family", "per_thousand"]

_CONFIDENCE = 0.95


@dataclass(frozen=True)
class Assurance:
    """``accepted`` fields, of which ``drawn`` are spot checks, ``checked`` were looked at, and ``wrong`` were wrong;
    ``beyond``: accepted fields that could never have been drawn, so that nothing here speaks of them.
    """

    accepted: int
    drawn: int
    checked: int
    wrong: int
    beyond: int = 0

    @property
    def at_most(self) -> float:
        """The share of accepted fields that is wrong is not above this, with 95 % confidence (Clopper and Pearson)."""
        return upper_bound(self.wrong, self.checked, _CONFIDENCE) if self.checked else 1.0

    @property
    def waiting(self) -> int:
        """Spot checks that nobody has answered yet."""
        return self.drawn - self.checked

    @property
    def sentence(self) -> str:
        """The statement, for a list or a summary."""
        more = f"; {self.beyond} more accepted that no spot check could be drawn from" if self.beyond else ""
        if not self.checked:
            return f"{self.accepted} accepted, none spot-checked yet{more}"
        return (
            f"{self.accepted} accepted, {self.checked} spot-checked, {self.wrong} wrong: "
            f"at most {per_thousand(self.at_most)} in 1,000 with 95 % confidence{more}"
        )


def assurance(binder: Binder) -> Assurance:
    """Of the whole record."""
    waiting, answered = binder.spot_check_counts()
    wrong = sum(
        not same_value(name, plain_value(kind, read), plain_value(kind, now)) for name, kind, read, now in answered
    )
    accepted, beyond = binder.accepted_totals()
    return Assurance(accepted, waiting + len(answered), len(answered), wrong, beyond)


def assurance_by_family(binder: Binder) -> dict[str, Assurance]:
    """The same for each family of fields that the record has accepted any of."""
    accepted: Counter[str] = Counter()
    for (field_id, kind), count in binder.accepted_counts().items():
        accepted[family_of(field_id, kind)] += count
    checks: dict[str, list[JudgedField]] = {family: [] for family in accepted}
    for check in binder.spot_checked():
        checks.setdefault(family_of(check.field_id, check.kind), []).append(check)
    order = [*FAMILIES, *(family for family in accepted if family not in FAMILIES)]
    return {family: _assurance(accepted[family], checks[family]) for family in order if accepted[family]}


def _assurance(accepted: int, checks: Sequence[JudgedField]) -> Assurance:
    answered = [check for check in checks if check.right is not None]
    return Assurance(accepted, len(checks), len(answered), sum(check.right is False for check in answered))


def per_thousand(share: float) -> str:
    """A share in thousandths, rounded up to two digits so that it promises no more than it may."""
    thousandths = share * 1000
    places = 0 if thousandths >= 10 else 1 if thousandths >= 1 else 2
    step = 10.0**-places
    rounded = min(-(-thousandths // step) * step, 1000.0)
    return f"{rounded:,.{places}f}"
