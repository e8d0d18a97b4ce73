"""The use of the record: lists, exports, summaries, bounds."""

from scanform.report.assurance import Assurance, assurance, assurance_by_family, per_thousand
from scanform.report.cautions import CAUTION, DOUBTS_CAUTION
from scanform.report.closing_list import close_by_name, close_from_csv
from scanform.report.defects import DefectEntry
from scanform.report.export import FORMATS, export
from scanform.report.guard import guarded, unguarded
from scanform.report.ink import cut_ink, quarter_turns, turned
from scanform.report.pads import PadBack, pads_back
from scanform.report.pictures import draw_page, write_crop
from scanform.report.register import Closure, Defect, defect_register, still_open
from scanform.report.register_table import register_table, write_defects
from scanform.report.site_thresholds import Proposal, proposals, thresholds_after
from scanform.report.summary import BatchSummary, batch_summary
from scanform.report.tables import tables
from scanform.report.wording import value_in_words
from scanform.settle import clopper_pearson, upper_bound

__all__ = [
    "CAUTION",
    "DOUBTS_CAUTION",
    "FORMATS",
    "Assurance",
    "BatchSummary",
    "Closure",
    "Defect",
    "DefectEntry",
    "PadBack",
    "Proposal",
    "assurance",
    "assurance_by_family",
    "batch_summary",
    "clopper_pearson",
    "close_by_name",
    "close_from_csv",
    "cut_ink",
    "defect_register",
    "draw_page",
    "export",
    "guarded",
    "pads_back",
    "per_thousand",
    "proposals",
    "quarter_turns",
    "register_table",
    "still_open",
    "tables",
    "thresholds_after",
    "turned",
    "unguarded",
    "upper_bound",
    "value_in_words",
    "write_crop",
    "write_defects",
]
