"""Settling paper that scanform never printed: dates, numbers and unit numbers in free writing."""

from scanform.settle.old.dates import written_order
from scanform.settle.old.meter_chain import MayRead, readings_that_go_on
from scanform.settle.old.row_order import may_be_monthly, order_by_row
from scanform.settle.old.sheet import day_either_way, hours_by_ink, old_verdicts, settle_old_sheet

__all__ = [
    "MayRead",
    "day_either_way",
    "hours_by_ink",
    "may_be_monthly",
    "old_verdicts",
    "order_by_row",
    "readings_that_go_on",
    "settle_old_sheet",
    "written_order",
]
