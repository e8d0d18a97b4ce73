"""The use of the record: lists, exports, summaries, bounds."""

from typing import TYPE_CHECKING

from scanform.doors import given_when_asked
from scanform.report.assurance import Assurance, assurance, assurance_by_family, per_thousand
from scanform.report.cautions import CAUTION, DOUBTS_CAUTION
from scanform.report.closing_list import close_by_name, close_from_csv, defect_named, standing_closing
from scanform.report.closures import Closure
from scanform.report.coverage import coverage, last_day, not_filed
from scanform.report.defects import DefectEntry
from scanform.report.evidence import Evidence, gather_evidence
from scanform.report.guard import guarded, unguarded
from scanform.report.letter import Letter, defect_line, weekly_letter
from scanform.report.lists import LIST_COLUMNS, closings_table, gaps_table, meters_table, service_table
from scanform.report.meter import daily_use, meter_readings
from scanform.report.pace import Pace, settling_pace
from scanform.report.pads import PadBack, pads_back
from scanform.report.patterns import PATTERNS_CAUTION, Pattern, patterns
from scanform.report.register import Defect, defect_register, still_open
from scanform.report.register_table import register_table, write_defects
from scanform.report.retention import RULES as RETENTION_RULES
from scanform.report.retention import Keeping, closings_that_go_on, files_that_may_go, keeping, rule_in_words
from scanform.report.service import METHOD as SERVICE_METHOD
from scanform.report.service import USUAL_STEPS, ServiceDue, service_due
from scanform.report.sheet_days import counted_sheets
from scanform.report.site_thresholds import Proposal, proposals, thresholds_after
from scanform.report.stretch import days_asked, known_unit, week_of
from scanform.report.summary import BatchSummary, batch_summary
from scanform.report.tables import tables
from scanform.report.unit_days import Coverage, UnitDay, day_sign
from scanform.report.unread_pages import unread_pages, unread_sentence
from scanform.report.wording import value_in_words
from scanform.settle import clopper_pearson, upper_bound

if TYPE_CHECKING:
    from scanform.report.evidence_folder import MANIFEST, write_evidence
    from scanform.report.export import FORMATS
    from scanform.report.ink import cut_ink, quarter_turns, turned
    from scanform.report.letter_pdf import defects_picture, hours_bars, tiles
    from scanform.report.look import drawing_svg, save_drawing
    from scanform.report.pictures import draw_page, write_crop

__all__ = [
    "CAUTION",
    "DOUBTS_CAUTION",
    "FORMATS",
    "LIST_COLUMNS",
    "MANIFEST",
    "PATTERNS_CAUTION",
    "RETENTION_RULES",
    "SERVICE_METHOD",
    "USUAL_STEPS",
    "Assurance",
    "BatchSummary",
    "Closure",
    "Coverage",
    "Defect",
    "DefectEntry",
    "Evidence",
    "Keeping",
    "Letter",
    "Pace",
    "PadBack",
    "Pattern",
    "Proposal",
    "ServiceDue",
    "UnitDay",
    "assurance",
    "assurance_by_family",
    "batch_summary",
    "clopper_pearson",
    "close_by_name",
    "close_from_csv",
    "closings_table",
    "closings_that_go_on",
    "counted_sheets",
    "coverage",
    "cut_ink",
    "daily_use",
    "day_sign",
    "days_asked",
    "defect_line",
    "defect_named",
    "defect_register",
    "defects_picture",
    "draw_page",
    "drawing_svg",
    "files_that_may_go",
    "gaps_table",
    "gather_evidence",
    "guarded",
    "hours_bars",
    "keeping",
    "known_unit",
    "last_day",
    "meter_readings",
    "meters_table",
    "not_filed",
    "pads_back",
    "patterns",
    "per_thousand",
    "proposals",
    "quarter_turns",
    "register_table",
    "rule_in_words",
    "save_drawing",
    "service_due",
    "service_table",
    "settling_pace",
    "standing_closing",
    "still_open",
    "tables",
    "thresholds_after",
    "tiles",
    "turned",
    "unguarded",
    "unread_pages",
    "unread_sentence",
    "upper_bound",
    "value_in_words",
    "week_of",
    "weekly_letter",
    "write_crop",
    "write_defects",
    "write_evidence",
]

__getattr__ = given_when_asked(
    __name__,
    {
        "evidence_folder": ("MANIFEST", "write_evidence"),
        "export": ("FORMATS",),
        "ink": ("cut_ink", "quarter_turns", "turned"),
        "letter_pdf": ("defects_picture", "hours_bars", "tiles"),
        "look": ("drawing_svg", "save_drawing"),
        "pictures": ("draw_page", "write_crop"),
    },
)
