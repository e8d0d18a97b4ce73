"""Find adopted forms, which carry no mark and no code: by their print alone.

The numbers here are fitted and measured on old forms (:mod:`scanform.training.old_binders`), not on scanform's own
sheets, and no page of these comes here while three of its marks or its code can be seen.
"""

from scanform.locate.unmarked.find import FormFit, best_form
from scanform.locate.unmarked.form import KnownForm

__all__ = ["FormFit", "KnownForm", "best_form"]
