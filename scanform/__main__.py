"""``python -m scanform`` and the command ``scanform``."""

__all__ = ["main"]


def main() -> None:
    """Run a command."""
    # Not at the top: worker processes import the program that started them, and have no use for its commands.
    from scanform.cli import main as run

    run()


if __name__ == "__main__":
    main()
