"""Values in words, the same in every list and picture."""

__all__ = ["value_in_words"]


def value_in_words(value: str | bool | None) -> str:
    """A field's value for a person: ``-`` for nothing written, signed or unsigned for a signature."""
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "signed" if value else "unsigned"
    return value
