"""``python -m scanform``."""

from scanform.cli import main

if __name__ == "__main__":
    main()
