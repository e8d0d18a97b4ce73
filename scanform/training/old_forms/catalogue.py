"""All old forms, and which of them anything may be fitted on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from scanform.training.old_forms.drawn import DrawnForm
from scanform.training.old_forms.html_grids import circled_in_table, month_grid, shaded_report
from scanform.training.old_forms.html_lists import brackets, circled_words, glyph_boxes
from scanform.training.old_forms.html_trades import crane_ledger, loader_groups, plant_cards, sweeper_pairs
from scanform.training.old_forms.letters import initialled_list, lorry_table, typed_letter
from scanform.training.old_forms.pad_blocks import conveyor_round
from scanform.training.old_forms.pad_copied import dumper_copy
from scanform.training.old_forms.pad_lists import boxes_left, boxes_right, small_print
from scanform.training.old_forms.pad_tables import coarse_table, three_columns, weekly_landscape
from scanform.training.old_forms.sheet_shifts import fork_truck_shifts, mixer_remarks
from scanform.training.old_forms.spreadsheets import sheet_columns, sheet_week

__all__ = ["CATALOGUE", "FITTING", "MEASURING", "Listed", "listed"]

FITTING, MEASURING = "fitting", "measuring"


@dataclass(frozen=True)
class Listed:
    """One form of the corpus. ``split``: "fitting" or "measuring", by style. ``covers``: a day, week or month.

    ``runs``: its print runs, oldest first. ``generations``: how often its master was copied before it was handed out.
    """

    name: str
    tool: str
    split: str
    draw: Callable[[str], DrawnForm]
    covers: str = "day"
    runs: tuple[str, ...] = ("a",)
    generations: int = 0


CATALOGUE: tuple[Listed, ...] = (
    Listed("boxes-right", "reportlab", FITTING, boxes_right, runs=("a", "b")),
    Listed("three-columns", "reportlab", FITTING, three_columns),
    Listed("weekly-landscape", "reportlab", FITTING, weekly_landscape, covers="week"),
    Listed("brackets", "chromium", FITTING, brackets),
    Listed("glyph-boxes", "chromium", FITTING, glyph_boxes),
    Listed("circled-words", "chromium", FITTING, circled_words),
    Listed("sheet-columns", "libreoffice", FITTING, sheet_columns),
    Listed("boxes-left", "reportlab", MEASURING, boxes_left),
    Listed("small-print", "reportlab", MEASURING, small_print),
    Listed("coarse-table", "reportlab", MEASURING, coarse_table, runs=("a", "b"), generations=2),
    Listed("month-grid", "chromium", MEASURING, month_grid, covers="month"),
    Listed("shaded-report", "chromium", MEASURING, shaded_report),
    Listed("circled-in-table", "chromium", MEASURING, circled_in_table),
    Listed("sheet-week", "libreoffice", MEASURING, sheet_week, covers="week"),
    Listed("typed-letter", "libreoffice", MEASURING, typed_letter),
    Listed("crane-ledger", "chromium", FITTING, crane_ledger),
    Listed("plant-cards", "chromium", FITTING, plant_cards),
    Listed("fork-truck-shifts", "libreoffice", FITTING, fork_truck_shifts, covers="week"),
    Listed("conveyor-round", "reportlab", FITTING, conveyor_round),
    Listed("lorry-table", "libreoffice", FITTING, lorry_table),
    Listed("dumper-copy", "reportlab", FITTING, dumper_copy),
    Listed("loader-groups", "chromium", FITTING, loader_groups),
    Listed("initialled-list", "libreoffice", FITTING, initialled_list),
    Listed("mixer-remarks", "libreoffice", FITTING, mixer_remarks),
    Listed("sweeper-pairs", "chromium", FITTING, sweeper_pairs),
)


def listed(name: str) -> Listed:
    """The form of that name; KeyError if there is none."""
    for form in CATALOGUE:
        if form.name == name:
            return form
    raise KeyError(name)
