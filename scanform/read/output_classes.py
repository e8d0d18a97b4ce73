"""Cut a recogniser's output layer down to the classes that are of use, in the ONNX file's own bytes.

The line model's last layer scores 18,710 characters, of which our sheets need some eighty: a fifth of its time. An ONNX
file is a Protocol Buffers message, in which one layer's weights are easily found and replaced; the ``onnx`` package
that could do it takes longer to import than the rest of a worker to start, and the cut network is too large to carry.

Sources: the ONNX intermediate representation (onnx.proto3, field numbers), the Protocol Buffers encoding.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

__all__ = ["metadata_of", "with_classes"]

# Wire types of the encoding.
_VARINT, _EIGHT_BYTES, _COUNTED, _FOUR_BYTES = 0, 1, 2, 5
# Field numbers of onnx.proto3.
_MODEL_GRAPH, _MODEL_METADATA = 7, 14
_GRAPH_INITIALIZER, _GRAPH_OUTPUT, _GRAPH_VALUE_INFO = 5, 12, 13
_TENSOR_DIMS, _TENSOR_TYPE, _TENSOR_NAME, _TENSOR_RAW = 1, 2, 8, 9
_INFO_NAME, _INFO_TYPE, _TYPE_TENSOR, _TENSOR_ELEMENTS, _TENSOR_SHAPE, _SHAPE_DIM = 1, 2, 1, 1, 2, 1
_FLOAT = 1  # TensorProto.DataType


def metadata_of(model: bytes) -> dict[str, str]:
    """What an ONNX file says of itself in its metadata; raises ValueError if it is no such file."""
    found = {}
    for number, _, value in _fields(memoryview(model)):
        if number == _MODEL_METADATA:
            key, text = (str(bytes(part), "utf-8") for _, _, part in _fields(_bytes(value)))
            found[key] = text
    return found


def with_classes(model: bytes, classes: int, wanted: Sequence[int]) -> bytes:
    """The same network with only the ``wanted`` ones of its last layer's ``classes``, in that order.

    The softmax that follows then shares out the whole probability among the wanted ones, as choosing their columns and
    dividing by their sum would. Raises ValueError if the file does not hold one float32 weight matrix
    (inputs, ``classes``) and one bias (``classes``,).
    """
    parts: list[bytes | memoryview] = []
    for number, raw, value in _fields(memoryview(model)):
        parts.append(
            _counted(_MODEL_GRAPH, _cut_graph(_bytes(value), classes, wanted)) if number == _MODEL_GRAPH else raw
        )
    return b"".join(parts)


def _cut_graph(graph: memoryview, classes: int, wanted: Sequence[int]) -> bytes:
    parts: list[bytes | memoryview] = []
    cut: list[int] = []  # numbers of dimensions of what was cut
    for number, raw, value in _fields(graph):
        dims = _dims(_bytes(value)) if number == _GRAPH_INITIALIZER else []
        if dims and dims[-1] == classes:
            parts.append(_counted(number, _cut_tensor(_bytes(value), dims, wanted)))
            cut.append(len(dims))
        elif number == _GRAPH_OUTPUT:
            parts.append(_counted(number, _without_sizes(_bytes(value))))
        elif number != _GRAPH_VALUE_INFO:  # sizes between the layers, told for the uncut network
            parts.append(raw)
    if sorted(cut) != [1, 2]:
        raise ValueError(f"the network has no single output layer of {classes} classes")
    return b"".join(parts)


def _cut_tensor(tensor: memoryview, dims: list[int], wanted: Sequence[int]) -> bytes:
    values = {number: value for number, _, value in _fields(tensor)}
    raw = values.get(_TENSOR_RAW)
    if values.get(_TENSOR_TYPE) != _FLOAT or not isinstance(raw, memoryview) or len(raw) != 4 * np.prod(dims):
        raise ValueError("the output layer's weights are not plain float32")
    weights = np.frombuffer(raw, "<f4").reshape(dims)[..., list(wanted)]
    return b"".join(
        [
            *(_tag(_TENSOR_DIMS, _VARINT) + _varint(size) for size in weights.shape),
            _tag(_TENSOR_TYPE, _VARINT) + _varint(_FLOAT),
            _counted(_TENSOR_NAME, bytes(_bytes(values[_TENSOR_NAME]))),
            _counted(_TENSOR_RAW, np.ascontiguousarray(weights).tobytes()),
        ]
    )


def _without_sizes(output: memoryview) -> bytes:
    """An output's description with its name, element type and number of dimensions alone."""
    name = next(value for number, _, value in _fields(output) if number == _INFO_NAME)
    inside = output
    for wanted in (_INFO_TYPE, _TYPE_TENSOR, _TENSOR_SHAPE):
        inside = next(_bytes(value) for number, _, value in _fields(inside) if number == wanted)
    any_size = _counted(_SHAPE_DIM, b"")
    shape = b"".join(any_size for number, _, _ in _fields(inside) if number == _SHAPE_DIM)
    tensor = _tag(_TENSOR_ELEMENTS, _VARINT) + _varint(_FLOAT) + _counted(_TENSOR_SHAPE, shape)
    return _counted(_INFO_NAME, bytes(_bytes(name))) + _counted(_INFO_TYPE, _counted(_TYPE_TENSOR, tensor))


def _dims(tensor: memoryview) -> list[int]:
    dims: list[int] = []
    for number, _, value in _fields(tensor):
        if number != _TENSOR_DIMS:
            continue
        if isinstance(value, int):
            dims.append(value)
            continue
        at = 0  # packed: one varint after the other
        while at < len(value):
            size, at = _read_varint(value, at)
            dims.append(size)
    return dims


def _fields(message: memoryview) -> Iterator[tuple[int, memoryview, int | memoryview]]:
    """Each field of a message: its number, all its bytes, and its value (a number, or the bytes of what it holds)."""
    at, size = 0, len(message)
    while at < size:
        start = at
        tag, at = _read_varint(message, at)
        number, wire = tag >> 3, tag & 7
        value: int | memoryview
        if wire == _VARINT:
            value, at = _read_varint(message, at)
        else:
            if wire == _COUNTED:
                length, at = _read_varint(message, at)
            elif wire in (_EIGHT_BYTES, _FOUR_BYTES):
                length = 8 if wire == _EIGHT_BYTES else 4
            else:
                raise ValueError("not a Protocol Buffers message")
            value, at = message[at : at + length], at + length
            if at > size:
                raise ValueError("a Protocol Buffers message is cut short")
        yield number, message[start:at], value


def _read_varint(message: memoryview, at: int) -> tuple[int, int]:
    value = shift = 0
    while at < len(message):
        byte = message[at]
        at += 1
        value |= (byte & 0x7F) << shift
        if byte < 0x80:
            return value, at
        shift += 7
    raise ValueError("a Protocol Buffers message is cut short")


def _bytes(value: int | memoryview) -> memoryview:
    if isinstance(value, int):
        raise ValueError("a number stands where a message should")
    return value


def _varint(value: int) -> bytes:
    out = bytearray()
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
    return bytes(out)


def _tag(number: int, wire: int) -> bytes:
    return _varint(number << 3 | wire)


def _counted(number: int, body: bytes) -> bytes:
    return _tag(number, _COUNTED) + _varint(len(body)) + body
