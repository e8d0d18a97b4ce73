"""Machine-read artwork as matrices of black cells: registration marks (ArUco) and the sheet code (QR)."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
import zxingcpp

__all__ = ["MARK_BITS", "code_matrix", "mark_matrix"]

MARK_BITS = 6  # DICT_4X4_50: 4 x 4 payload bits and a border of one


@lru_cache(maxsize=64)
def mark_matrix(identity: int) -> np.ndarray:
    """The marker's cells, bool (6, 6), True where black."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    return cv2.aruco.generateImageMarker(dictionary, identity, MARK_BITS, borderBits=1) == 0


def code_matrix(text: str) -> np.ndarray:
    """The QR symbol's modules, bool (n, n), True where black, without the quiet zone.

    Error correction M (15 %, ISO/IEC 18004): one grade more would cost a symbol version and so module size.
    """
    symbol = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode, ec_level="M")
    return np.array(symbol.to_image(scale=1, add_quiet_zones=False)) == 0
