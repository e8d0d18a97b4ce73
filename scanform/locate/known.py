"""The sheets that can be recognised: every template on every paper size, laid out once; adopted forms beside them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from scanform.errors import LayoutError
from scanform.form import AdoptedTemplate, Layout, Paper, SheetCode, Template, lay_out
from scanform.locate.artwork import Probes, probes_of
from scanform.locate.own_words import WordPictures, word_pictures
from scanform.locate.print_match import Keypoints, keypoints_of
from scanform.locate.unmarked import KnownForm

__all__ = ["KnownLayouts", "KnownSheet"]


@dataclass(frozen=True, eq=False)
class KnownSheet:
    """A layout with its artwork prepared for measuring."""

    layout: Layout
    probes: Probes

    @cached_property
    def keypoints(self) -> Keypoints:
        """Of the printed artwork, in mm; made when first asked for, since most pages do without."""
        return keypoints_of(self.layout)

    @cached_property
    def word_pictures(self) -> WordPictures:
        """Of the sheet's own lines of print; made when first asked for."""
        return word_pictures(self.layout)


class KnownLayouts:
    """Templates by name and version, on each paper size that they fit on."""

    def __init__(self, templates: Iterable[Template]) -> None:
        self._sheets: dict[tuple[str, int, str], KnownSheet] = {}
        self.templates = tuple(templates)
        self.forms = tuple(KnownForm(t) for t in self.templates if isinstance(t, AdoptedTemplate))
        for template in self.templates:
            if isinstance(template, AdoptedTemplate):
                continue  # no mark and no code leads to one
            for paper in Paper:
                try:
                    layout = lay_out(template, paper)
                except LayoutError:
                    continue  # a template may fit on one paper size only; `print` says so for the other
                self._sheets[template.name, template.version, paper.value[0].upper()] = KnownSheet(
                    layout, probes_of(layout)
                )

    def without(self, name: str) -> KnownLayouts:
        """The same but for one template, in all its versions; what was prepared for the others is shared."""
        fewer = KnownLayouts(())
        fewer.templates = tuple(template for template in self.templates if template.name != name)
        fewer.forms = tuple(form for form in self.forms if form.template.name != name)
        fewer._sheets = {key: sheet for key, sheet in self._sheets.items() if key[0] != name}
        return fewer

    def of_code(self, code: SheetCode) -> KnownSheet | None:
        """The sheet a code names, or None if no such template and version is known."""
        return self._sheets.get((code.template, code.version, code.paper))

    @property
    def sheets(self) -> list[KnownSheet]:
        """All sheets that scanform printed."""
        return list(self._sheets.values())

    def on_paper(self, paper: Paper) -> list[KnownSheet]:
        """All of these of one paper size."""
        return [sheet for sheet in self._sheets.values() if sheet.layout.paper == paper]
