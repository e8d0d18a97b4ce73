"""Sign-ins that failed: whoever guesses has to wait, longer each time."""

from __future__ import annotations

import math
import threading
import time
from collections import OrderedDict

__all__ = ["Tries"]

FREE_TRIES = 5  # a person mistypes a few times; nobody guesses a sentence in five
FREE_TRIES_OF_A_MACHINE = 20  # several people may sit behind one address
FIRST_WAIT_S = 30.0
LONGEST_WAIT_S = 900.0
FORGOTTEN_AFTER_S = 3600.0
_MOST_REMEMBERED = 10_000


class Tries:
    """Failed tries by person and machine, and by machine. In memory: a desk started again has forgotten them."""

    def __init__(self) -> None:
        self._failed: OrderedDict[tuple[str, ...], tuple[int, float]] = OrderedDict()  # how many, and when the last was
        self._lock = threading.Lock()

    def wait_s(self, initials: str, address: str) -> int:
        """Seconds until this person may try again from there; 0 if at once."""
        with self._lock:
            waits = (self._wait((initials, address), FREE_TRIES), self._wait((address,), FREE_TRIES_OF_A_MACHINE))
            return math.ceil(max(waits))

    def failed(self, initials: str, address: str) -> None:
        """Note that a sign-in failed."""
        now = time.monotonic()
        with self._lock:
            for key in ((initials, address), (address,)):
                count, last = self._failed.pop(key, (0, now))
                self._failed[key] = (1 if now - last > FORGOTTEN_AFTER_S else count + 1, now)
            while len(self._failed) > _MOST_REMEMBERED:
                self._failed.popitem(last=False)

    def succeeded(self, initials: str, address: str) -> None:
        """Forget this person's failed tries."""
        with self._lock:
            self._failed.pop((initials, address), None)

    def _wait(self, key: tuple[str, ...], free: int) -> float:
        count, last = self._failed.get(key, (0, 0.0))
        if count < free:
            return 0.0
        wait = min(FIRST_WAIT_S * 2.0 ** min(count - free, 10), LONGEST_WAIT_S)
        return max(0.0, last + wait - time.monotonic())
