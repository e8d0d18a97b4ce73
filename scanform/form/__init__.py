"""What a sheet is: template files, and their geometry in millimetres. No images, no PDF."""

from scanform.form.blocks import CAUTION
from scanform.form.code import SheetCode, new_pad_id, pad_of, parse_code, serial_number, unit_characters
from scanform.form.days import DAY_TITLES, DAYS, date_of, parted
from scanform.form.engine import lay_out
from scanform.form.geometry import Box
from scanform.form.layout import Answer, Field, FieldKind, Layout, Line, Mark, Paper, Polygon, Words
from scanform.form.source import built_in_templates, find_template, load_template, template_folder
from scanform.form.template import Item, Template

__all__ = [
    "CAUTION",
    "DAYS",
    "DAY_TITLES",
    "Answer",
    "Box",
    "Field",
    "FieldKind",
    "Item",
    "Layout",
    "Line",
    "Mark",
    "Paper",
    "Polygon",
    "SheetCode",
    "Template",
    "Words",
    "built_in_templates",
    "date_of",
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
]
