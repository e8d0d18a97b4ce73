"""What a sheet is: template files, and their geometry in millimetres. No images, no PDF."""

from scanform.form.adopted import (
    BLANK_PX_PER_MM,
    AdoptedAnswer,
    AdoptedField,
    AdoptedTemplate,
    BlankPicture,
    PrintedWord,
    Rule,
    Sign,
)
from scanform.form.adopted_file import adopted_files, adopted_yaml, write_adopted
from scanform.form.blocks import CAUTION
from scanform.form.code import SheetCode, new_pad_id, pad_of, parse_code, serial_number, unit_characters
from scanform.form.days import DAY_TITLES, DAYS, DAYS_OF_MONTH, date_of, day_place, day_title, parted
from scanform.form.engine import lay_out
from scanform.form.geometry import Box
from scanform.form.layout import Answer, Field, FieldKind, Layout, Line, Mark, Paper, Polygon, Words
from scanform.form.source import built_in_templates, find_template, load_template, template_folder
from scanform.form.template import Item, ItemEntry, Stage, Template

__all__ = [
    "BLANK_PX_PER_MM",
    "CAUTION",
    "DAYS",
    "DAYS_OF_MONTH",
    "DAY_TITLES",
    "AdoptedAnswer",
    "AdoptedField",
    "AdoptedTemplate",
    "Answer",
    "BlankPicture",
    "Box",
    "Field",
    "FieldKind",
    "Item",
    "ItemEntry",
    "Layout",
    "Line",
    "Mark",
    "Paper",
    "Polygon",
    "PrintedWord",
    "Rule",
    "SheetCode",
    "Sign",
    "Stage",
    "Template",
    "Words",
    "adopted_files",
    "adopted_yaml",
    "built_in_templates",
    "date_of",
    "day_place",
    "day_title",
    "find_template",
    "lay_out",
    "load_template",
    "new_pad_id",
    "pad_of",
    "parse_code",
    "parted",
    "serial_number",
    "template_folder",
    "unit_characters",
    "write_adopted",
]
