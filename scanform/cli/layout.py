"""``scanform layout``: where everything is on a sheet, as JSON."""

from __future__ import annotations

import json
import sys
from typing import Annotated, Any

import typer

from scanform.cli.options import PaperSize
from scanform.form import AdoptedTemplate, Field, FieldKind, Paper, find_template, lay_out

__all__ = ["layout"]


def layout(
    template: Annotated[str, typer.Argument(help="A name under form_templates/, or the path of a template file.")],
    paper: PaperSize = Paper.A4,
) -> None:
    """Print a sheet's geometry as JSON: every field in millimetres from the page's top left, x right, y down."""
    kind = find_template(template)
    # An adopted form lies on the paper that it was printed on, whatever that is.
    paper = kind.paper if isinstance(kind, AdoptedTemplate) else paper
    laid_out = lay_out(kind, paper)
    document = {
        "template": laid_out.template.name,
        "version": laid_out.template.version,
        "paper": paper.value,
        "pages": [
            {
                "page": 1,
                "width_mm": laid_out.width_mm,
                "height_mm": laid_out.height_mm,
                "fields": [_field(field) for field in laid_out.fields],
            }
        ],
    }
    sys.stdout.write(json.dumps(document, indent=1) + "\n")


def _field(field: Field) -> dict[str, Any]:
    described: dict[str, Any] = {"id": field.id, "kind": field.kind.value}
    if field.pattern:
        described |= {"pattern": field.pattern}
    if field.kind is FieldKind.COMB:
        return described | {"charset": field.charset, "cells_mm": [cell.rounded() for cell in field.cells_mm]}
    if field.answers:
        answers = [{"answer": answer.answer, "box_mm": answer.box_mm.rounded()} for answer in field.answers]
        return described | {"answers": answers}
    return described | {"box_mm": field.box_mm.rounded()}
