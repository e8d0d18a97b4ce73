"""Blank forms for measuring proposals at first sight, in sets: each was drawn before the code had seen any of it.

A set is measured once as the code then is; only after that may anything be mended on it. See DEVELOPERS.md for the
figures. Nobody fills these forms in: they are there for their blanks.
"""

from scanform.training.old_forms.unseen.sets import SETS

__all__ = ["SETS"]
