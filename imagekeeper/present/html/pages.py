"""Pages as HTML text: one file each, which opens alone, runs no script and fetches nothing.

Markup that comes from people or files is escaped by the template library. Characters that could change how the rest of
the page reads, control characters and marks that turn the direction of writing, become escapes in the finished page.
"""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

from imagekeeper.evidence.standing import GRADES
from imagekeeper.findings import CODES as FINDING_CODES
from imagekeeper.jobs.pages.label_sheets import LabelSheets
from imagekeeper.jobs.pages.values import CarrierPage, IndexPage, MachinePage
from imagekeeper.legible import short, visible
from imagekeeper.planning.sheet import Sheet
from imagekeeper.present.html.lineage import lineage
from imagekeeper.present.html.words import day, limited, sentence
from imagekeeper.present.svg import difference_map, image_map
from imagekeeper.present.svg.marks import mark
from imagekeeper.provenance.kinds import KINDS
from imagekeeper.units import address_digits, plural, range_text, size_text, together

if TYPE_CHECKING:
    from jinja2 import Environment


#: What can be rendered.
Page = IndexPage | MachinePage | CarrierPage | LabelSheets | Sheet

#: The template that shows each, and the way from its place up to the index.
_TEMPLATES: dict[type[Page], tuple[str, str]] = {
    IndexPage: ("index.html", ""), MachinePage: ("machine.html", "../"), CarrierPage: ("carrier.html", "../"),
    LabelSheets: ("labels.html", ""), Sheet: ("sheet.html", ""),
}  # fmt: skip

#: What is said of the states that are no grades.
STATES: dict[str, str] = {str(name): says for name, says in GRADES.items()}
STATES["damaged"] = "Files of it in the archive are not what was kept."
STATES["unreadable"] = "Its record in the archive cannot be read."

def render(page: Page, extra_style: str = "") -> str:
    """Write a page.

    Args:
        page: Its values.
        extra_style: Rules to put behind the style sheet, such as the size of the paper.
    """
    style = _text("style.css") + extra_style
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    name, up = _TEMPLATES[type(page)]
    return visible(_environment().get_template(name).render(page=page, up=up, style=style, style_digest=digest))


@cache
def _text(name: str) -> str:
    folder = resources.files("imagekeeper.present.html").joinpath("templates")
    return folder.joinpath(name).read_text("utf-8").replace("\r\n", "\n")


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FunctionLoader, StrictUndefined  # slow to load: only for a page
    from markupsafe import Markup

    def own(text: str) -> Markup:
        """Trust markup that this package made: its drawings escape their own words."""
        return Markup(text)   # noqa: S704  never given a text of the user's

    environment = Environment(
        loader=FunctionLoader(_text), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
        keep_trailing_newline=True,
    )  # fmt: skip
    environment.filters |= {
        "address": lambda number, end: f"{number:0{address_digits(end)}X}", "day": day, "limited": limited,
        "own": own, "plural": plural, "range": range_text, "sentence": sentence, "short": short, "size": size_text,
        "together": together,
    }  # fmt: skip
    environment.globals |= {
        "mark": lambda state: own(mark(state)), "states": STATES, "kinds": KINDS, "finding_codes": FINDING_CODES,
        "address_digits": address_digits, "lineage": lineage, "difference_map": difference_map.draw,
        "image_map": image_map.draw,
    }  # fmt: skip
    return environment
