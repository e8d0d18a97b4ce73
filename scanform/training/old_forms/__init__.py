"""Old forms that scanform never printed: drawn with other tools, filled in, scanned. For fitting and measuring.

    python -m scanform.training.old_forms --out DIR [--forms NAME...] [--copies 60] [--grades office worn bitonal]

makes, for each of the 25 forms of the catalogue,

    DIR/forms.json                      a list: name, tool, split ("fitting" or "measuring"), covers, runs, copies
    DIR/FORM/RUN/blank.pdf              the form as its tool made it: vectors and text
    DIR/FORM/RUN/blank-scan.jpg         a clean blank through an office scanner
    DIR/FORM/RUN/layout.json            the truth, in the shape that ``scanform layout`` prints, with style and label
    DIR/FORM/copies/NNNN-GRADE.jpg|tif  filled copies, the grades in turn; of a form with two print runs, half of each
    DIR/FORM/copies/NNNN-GRADE.json     what the copy says: run, quarter_turns, ratio, unclear, lost_px, values, grid

``values``: field id to ``{"value", "text"}``: what a reader should give, and what is written. ``grid``: where points
``step_mm`` apart on the blank form lie on the scan: ``px[row][column]``. Places are in mm from the top left of the
form as it was drawn. ``lost_px``: corners torn off, as polygons on the scan. Nothing may be fitted on a form of the
split "measuring". All seeded; the same call makes the same pages with the same versions of Chromium and LibreOffice.

Chromium (Debian's ``chromium``, driven by playwright), LibreOffice (``libreoffice-calc-nogui``,
``libreoffice-writer-nogui``) and Debian's DejaVu and Liberation typefaces are needed for the forms that are made with
them. No company, person or machine in them exists.
"""

from scanform.training.old_forms.catalogue import CATALOGUE, Listed, listed
from scanform.training.old_forms.copies import OldCopy, copy_json, make_copy, master, write_copy
from scanform.training.old_forms.drawn import DrawnForm, FormField, layout_json

__all__ = [
    "CATALOGUE",
    "DrawnForm",
    "FormField",
    "Listed",
    "OldCopy",
    "copy_json",
    "layout_json",
    "listed",
    "make_copy",
    "master",
    "write_copy",
]
