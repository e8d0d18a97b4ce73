"""Sentences that go with every list. They say what a list is not."""

__all__ = ["CAUTION", "DOUBTS_CAUTION"]

CAUTION = (
    "A machine with an open safety defect stays parked until a competent person has put it right. "
    "Local law, the maker's manual and the site's rules come first; this list replaces none of them."
)

DOUBTS_CAUTION = (
    "A value whose state is doubtful is the likeliest reading and nothing more; look at the paper before relying on it."
)
