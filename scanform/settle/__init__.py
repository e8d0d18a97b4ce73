"""Decide what can be trusted: readings and what is known in, accepted or doubtful fields out."""

from scanform.settle.bounds import clopper_pearson, fewest_for, upper_bound
from scanform.settle.calibration import Calibration, calibration, calibration_for
from scanform.settle.duplicates import goes_on, same_ink, stands_for
from scanform.settle.families import FAMILIES, family_of, same_value
from scanform.settle.hours import HoursWindow, hours_window
from scanform.settle.sheet import settle_sheet
from scanform.settle.types import Known, MeterReading, Outcome, SettledField, State, TradeWord, UnitRecord
from scanform.settle.verdict import only_unsure

__all__ = [
    "FAMILIES",
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
    "calibration_for",
    "clopper_pearson",
    "family_of",
    "fewest_for",
    "goes_on",
    "hours_window",
    "only_unsure",
    "same_ink",
    "same_value",
    "settle_sheet",
    "stands_for",
    "upper_bound",
]
