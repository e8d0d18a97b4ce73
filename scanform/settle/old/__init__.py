"""Settling paper that scanform never printed: dates, numbers and unit numbers in free writing."""

from scanform.settle.old.dates import written_order
from scanform.settle.old.meter_chain import readings_that_go_on
from scanform.settle.old.sheet import old_verdicts, settle_old_sheet

__all__ = ["old_verdicts", "readings_that_go_on", "settle_old_sheet", "written_order"]
