"""Results as text, JSON, pictures and pages: the same renderings that the commands show."""

from __future__ import annotations

from typing import Any

from imagekeeper.comparison.comparison import Comparison
from imagekeeper.fingerprints import Fingerprint, Fingerprints
from imagekeeper.inspection.results import Inspection
from imagekeeper.jobs.chips.planning import ChipPlan
from imagekeeper.jobs.disks.planning import DiskPlan
from imagekeeper.jsonable import dumps
from imagekeeper.present.svg import difference_map, image_map
from imagekeeper.present.text import text_of
from imagekeeper.present.text.paper import Paper
from imagekeeper.transforms.step import within


def to_json(result: Any) -> str:
    """Give a result as its JSON document: one text, indented, the same that the program writes.

    A result whose class is a document names its schema.

    Args:
        result: What a function of the door gave.

    Raises:
        TypeError: It has no form in JSON.

    Example:
        >>> import imagekeeper, json
        >>> json.loads(imagekeeper.to_json(imagekeeper.find_format("360K")))["schema"]
        'format/1'
    """
    return dumps(result)


def text(result: Any, *, width: int = 100) -> str:
    """Give a result as plain text for people, as the command that gives it shows it, without colour.

    Words of people and files that could drive a terminal are shown as escapes.

    Args:
        result: What a function of the door gave; the rows of a hexdump have no text.
        width: Where sentences are broken; tables and drawings keep their own width. [column]

    Raises:
        TypeError: There is no text of such a result.
        UsageError: `usage` for a width that is not 1 to 1000.

    Example:
        >>> import imagekeeper
        >>> print(imagekeeper.text(imagekeeper.compare(b"TIDE", b"TIDE")).splitlines()[0])
        The 2 reads agree: the same 4 bytes at the same addresses.
    """
    within("the width", width, 1, 1000)
    return text_of(Fingerprints((result,)) if isinstance(result, Fingerprint) else result, Paper(width=width))


def svg(result: Comparison | Inspection) -> str:
    """Draw a result as an SVG picture: the map of where reads differ, or of one image.

    Args:
        result: A comparison that was made with `mapped=True`, or an inspection.

    Raises:
        TypeError: There is no picture of such a result, or the comparison was made without a map.

    Example:
        >>> import imagekeeper
        >>> imagekeeper.svg(imagekeeper.inspect(b"TIDE GAUGE" * 100))[:5]
        '<svg '
    """
    if isinstance(result, Inspection):
        return image_map.draw(result)
    if not isinstance(result, Comparison):
        raise TypeError(f"there is no picture of {type(result).__name__}")
    if result.map is None and result.differences.compared_bytes:
        raise TypeError("this comparison has no map: compare with mapped=True")
    return difference_map.draw(result, follows=True)


def html(result: ChipPlan | DiskPlan) -> str:
    """Write the bench sheet of a plan as a page that prints on one sheet of paper, opens alone and fetches nothing.

    Args:
        result: What `plan_chip` or `plan_disk` gave.

    Raises:
        TypeError: There is no page of such a result.

    Example:
        >>> import imagekeeper, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     plan = imagekeeper.plan_chip(b"TIDE" * 512, f"{folder}/u4.bin", "2716")
        >>> imagekeeper.html(plan)[:15]
        '<!DOCTYPE html>'
    """
    if not isinstance(result, ChipPlan | DiskPlan):
        raise TypeError(f"there is no page of {type(result).__name__}")
    from imagekeeper.present.html.sheet_page import render_sheet  # slow to load: the templates come with it

    return render_sheet(result.sheet)
