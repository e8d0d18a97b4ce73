"""The weekly letter as one HTML file that needs nothing beside it."""

from __future__ import annotations

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from reportlab.graphics.shapes import Drawing

from scanform.report.calendar_picture import calendar_picture
from scanform.report.cautions import CAUTION
from scanform.report.letter import Letter, defect_line
from scanform.report.letter_pdf import defects_picture, hours_bars, tiles
from scanform.report.look import drawing_svg
from scanform.report.service import METHOD
from scanform.report.wording import counted, dates_in_words

__all__ = ["letter_html"]

_CHART_WIDTH, _MOST_ROWS = 420.0, 40


def letter_html(letter: Letter) -> str:
    """The whole letter; unlike the page on paper it leaves nothing out."""
    environment = Environment(
        loader=PackageLoader("scanform.report", "."), autoescape=True, undefined=StrictUndefined, trim_blocks=False
    )
    pictures = [
        calendar_picture(letter.coverage),
        defects_picture(letter, _CHART_WIDTH, _MOST_ROWS),
        hours_bars(letter, _CHART_WIDTH, _MOST_ROWS),
    ]
    return environment.get_template("letter.html.j2").render(
        letter=letter,
        tiles=tiles(letter),
        line=defect_line,
        dates=dates_in_words,
        counted=counted,
        method=METHOD,
        caution=CAUTION,
        pictures=[_inline(picture, number) for number, picture in enumerate(pictures)],
    )


def _inline(picture: Drawing, number: int) -> Markup:
    """A drawing as SVG that stands inside a page; ``number`` keeps its ids its own."""
    whole = drawing_svg(picture)
    svg = whole[whole.index("<svg") :].replace('id="clip"', f'id="clip{number}"').replace("#clip", f"#clip{number}")
    # The drawing holds no text that was not escaped when it was written out.
    return Markup(svg)
