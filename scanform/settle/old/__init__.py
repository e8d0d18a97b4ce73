"""Settling paper that scanform never printed: dates, numbers and unit numbers in free writing."""

from scanform.settle.old.dates import written_order
from scanform.settle.old.meter_chain import MayRead, readings_that_go_on
from scanform.settle.old.sheet import hours_by_ink, old_verdicts, settle_old_sheet

__all__ = ["MayRead", "hours_by_ink", "old_verdicts", "readings_that_go_on", "settle_old_sheet", "written_order"]
