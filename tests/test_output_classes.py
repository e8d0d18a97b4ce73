"""The line model with only the characters of our sheets reads as the whole one does."""

from __future__ import annotations

from functools import cache

import numpy as np
import onnxruntime
import pytest

from scanform.form import Box
from scanform.read.lines import LATIN, LineReader, model_file, network_input
from scanform.read.output_classes import metadata_of, with_classes
from scanform.simulate import blank_page, random_writer, write_text

LINES = (
    "left rear tire cut to cord",
    "HYD. HOSE LEAKS AT BOOM (2x)",
    "Fire ext. gauge in the red, #4",
    "brake pedal soft after 30 min",
    "wiper blade torn; horn weak?",
    "no. 2 idler hot - 95% worn",
)


@cache
def whole_model() -> bytes:
    return model_file().read_bytes()


@cache
def whole_network() -> onnxruntime.InferenceSession:
    return onnxruntime.InferenceSession(whole_model(), providers=["CPUExecutionProvider"])


@cache
def reader() -> LineReader:
    return LineReader()


def written(text: str, seed: int) -> np.ndarray:
    """A line in somebody's hand, as it comes to the reader: uint8 (height, width)."""
    rng = np.random.default_rng(seed)
    page = blank_page(120.0, 12.0)
    inked = write_text(page, Box(2, 1, 110, 10), text, random_writer(rng), rng)
    assert inked is not None
    rows, columns = np.flatnonzero((page < 160).any(axis=1)), np.flatnonzero((page < 160).any(axis=0))
    return page[max(rows[0] - 6, 0) : rows[-1] + 6, max(columns[0] - 6, 0) : columns[-1] + 6]


def columns_of_our_characters() -> list[int]:
    """In the whole network's output, by its own list: 0 is the blank, the space comes last."""
    listed = whole_network().get_modelmeta().custom_metadata_map["character"].splitlines()
    return [0] + [len(listed) + 1 if sign == " " else listed.index(sign) + 1 for sign in reader().alphabet]


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("text", LINES)
def test_every_step_of_a_line_reads_as_with_all_characters(text: str, seed: int) -> None:
    line = written(text, seed)
    steps = reader().read(line).steps
    whole = whole_network().run(None, {"x": network_input(line)})[0][0][:, columns_of_our_characters()]
    assert steps.dtype == np.float32
    assert steps.shape == whole.shape
    assert steps.shape[1] == len(reader().alphabet) + 1
    assert (steps.argmax(axis=1) == whole.argmax(axis=1)).all()
    assert np.allclose(steps, whole / whole.sum(axis=1, keepdims=True), atol=2e-5)


def test_all_characters_that_a_sheet_may_hold_are_kept() -> None:
    assert "".join(reader().alphabet) == LATIN


def test_metadata_is_what_the_runtime_says_it_is() -> None:
    assert metadata_of(whole_model()) == whole_network().get_modelmeta().custom_metadata_map


def test_the_cut_file_is_sound_by_onnx_s_own_check_and_holds_the_chosen_columns() -> None:
    onnx = pytest.importorskip("onnx")  # of the "train" extra
    wanted = [0, 7, 18_709]
    cut = onnx.load_from_string(with_classes(whole_model(), 18_710, wanted))
    onnx.checker.check_model(cut)
    before = {t.name: t for t in onnx.load_from_string(whole_model()).graph.initializer}
    changed = 0
    for tensor in cut.graph.initializer:
        ours, theirs = onnx.numpy_helper.to_array(tensor), onnx.numpy_helper.to_array(before.pop(tensor.name))
        if theirs.shape[-1:] == (18_710,):
            theirs = theirs[..., wanted]
            changed += 1
        assert np.array_equal(ours, theirs)
    assert changed == 2
    assert not before


def test_a_network_without_that_many_classes_is_refused() -> None:
    with pytest.raises(ValueError, match="no single output layer of 97 classes"):
        with_classes(whole_model(), 97, [0, 1])


@pytest.mark.parametrize("broken", [b"\x3a\xff\x01abc", b"\x3b", b"\x3a\x80"])
def test_a_file_that_is_no_network_is_refused(broken: bytes) -> None:
    with pytest.raises(ValueError, match="Protocol Buffers"):
        with_classes(broken, 97, [0, 1])
