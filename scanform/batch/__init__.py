"""Carry pages through the rooms with workers, and account for every one."""

from scanform.batch.binder_templates import keep_adopted, kept_templates, templates_for
from scanform.batch.drawers import DONE, PROBLEM, make_drawers, sweep
from scanform.batch.duplicates import repeated_sheet
from scanform.batch.filing import FiledBatch, FiledFile, read_and_file
from scanform.batch.run import BatchResult, Stack, gather, read_stack
from scanform.batch.watch import read_what_is_there, watch_folder
from scanform.batch.worker import CarriedPage, Task

__all__ = [
    "DONE",
    "PROBLEM",
    "BatchResult",
    "CarriedPage",
    "FiledBatch",
    "FiledFile",
    "Stack",
    "Task",
    "gather",
    "keep_adopted",
    "kept_templates",
    "make_drawers",
    "read_and_file",
    "read_stack",
    "read_what_is_there",
    "repeated_sheet",
    "sweep",
    "templates_for",
    "watch_folder",
]
