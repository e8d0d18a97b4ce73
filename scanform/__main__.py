"""``python -m scanform`` and the command ``scanform``."""

import gc

__all__ = ["main"]


def main() -> None:
    """Run a command."""
    # Until all is loaded, which is much and stays: looking through it for what is not used takes a tenth of a second.
    gc.disable()
    # Not at the top: worker processes import the program that started them, and have no use for its commands.
    from scanform.cli import main as run

    run()


if __name__ == "__main__":
    main()
