"""Decide what can be trusted: readings and what is known in, accepted or doubtful fields out."""

from scanform.settle.calibration import Calibration, calibration
from scanform.settle.duplicates import goes_on, same_ink
from scanform.settle.hours import HoursWindow, hours_window
from scanform.settle.sheet import settle_sheet
from scanform.settle.types import Known, MeterReading, Outcome, SettledField, State, TradeWord, UnitRecord

__all__ = [
    "Calibration",
    "HoursWindow",
    "Known",
    "MeterReading",
    "Outcome",
    "SettledField",
    "State",
    "TradeWord",
    "UnitRecord",
    "calibration",
    "goes_on",
    "hours_window",
    "same_ink",
    "settle_sheet",
]
