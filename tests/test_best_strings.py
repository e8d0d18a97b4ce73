"""A comb's most probable strings, against all strings there are."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from scanform.read import ALPHABET, EMPTY
from scanform.read.strings import best_strings


@pytest.mark.parametrize("count", [1, 4, 5, 30])
@pytest.mark.parametrize("cells", [1, 2, 3])
def test_the_best_strings_are_the_most_probable_of_all(cells: int, count: int) -> None:
    signs = ALPHABET + EMPTY
    rng = np.random.default_rng(100 * cells + count)
    rows = rng.dirichlet(np.full(len(signs), 0.1), size=cells)
    every = {
        "".join(signs[k] for k in which): float(np.prod(rows[np.arange(cells), which]))
        for which in product(range(len(signs)), repeat=cells)
    }
    expected = sorted(every.values(), reverse=True)[:count]
    found = best_strings(rows, count)
    assert np.allclose([probability for _, probability in found], expected, rtol=1e-9)
    assert len({text for text, _ in found}) == len(found)
    assert all(np.isclose(every[text], probability) for text, probability in found)
