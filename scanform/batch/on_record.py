"""Pages of a batch as they stand on record, fetched when somebody looks at them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import overload

from scanform.binder import Binder, RecordedPage

__all__ = ["PagesOnRecord"]

_AT_ONCE = 100  # a page with its fields is 60 kB


class PagesOnRecord(Sequence[RecordedPage]):
    """Pages by their record numbers, in that order, while the binder is open.

    A batch of 5,000 pages would be 300 MB, of which its caller mostly wants a page at a time.
    """

    def __init__(self, binder: Binder, numbers: Sequence[int]) -> None:
        self._binder, self._numbers = binder, tuple(numbers)

    def __len__(self) -> int:
        return len(self._numbers)

    def __iter__(self) -> Iterator[RecordedPage]:
        for start in range(0, len(self._numbers), _AT_ONCE):
            yield from self._binder.pages_numbered(self._numbers[start : start + _AT_ONCE])

    @overload
    def __getitem__(self, at: int) -> RecordedPage: ...
    @overload
    def __getitem__(self, at: slice) -> list[RecordedPage]: ...
    def __getitem__(self, at: int | slice) -> RecordedPage | list[RecordedPage]:
        if isinstance(at, slice):
            return self._binder.pages_numbered(self._numbers[at])
        return self._binder.pages_numbered([self._numbers[at]])[0]
