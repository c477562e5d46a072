"""Results as JSON and as pictures: the same renderings that the commands show."""

from __future__ import annotations

from typing import Any

from imagekeeper.comparison.comparison import Comparison
from imagekeeper.inspection.results import Inspection
from imagekeeper.jobs.chips.planning import ChipPlan
from imagekeeper.jobs.disks.planning import DiskPlan
from imagekeeper.jsonable import dumps


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
        from imagekeeper.present.svg import image_map  # slow to load, and most calls want no picture

        return image_map.draw(result)
    if not isinstance(result, Comparison):
        raise TypeError(f"there is no picture of {type(result).__name__}")
    if result.map is None and result.differences.compared_bytes:
        raise TypeError("this comparison has no map: compare with mapped=True")
    from imagekeeper.present.svg import difference_map  # slow to load, and most calls want no picture

    return difference_map.draw(result)


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
    from imagekeeper.present.html.sheet_page import render_sheet  # slow to load, and a sheet as text does without

    return render_sheet(result.sheet)
