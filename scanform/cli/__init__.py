"""The commands; one thin module each."""

from scanform.cli.app import main

__all__ = ["main"]
