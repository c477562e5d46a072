"""The mark of a grade: a round window that fills as the evidence does; a word always stands beside it."""

from __future__ import annotations

#: How full the window is, in quarters of a turn.
QUARTERS = {"none": 0, "single": 1, "repeated": 2, "independent": 3, "corroborated": 4}

#: Points where a quarter, a half and three quarters of a turn end, from the top clockwise, on a circle of radius 6.5.
_ENDS = {1: "14.5 8", 2: "8 14.5", 3: "1.5 8"}

_FRAME = '<circle cx="8" cy="8" r="6.5" fill="none" stroke="currentColor" stroke-width="1.6"/>'

#: What the marks of the states besides the grades are.
_OTHERS = {
    "disputed": '<path d="M3.4 12.6 12.6 3.4M8 1.5A6.5 6.5 0 0 0 3.4 12.6" stroke="currentColor" stroke-width="2.4"'
    ' fill="none"/>' + _FRAME,
    "voted": _FRAME + '<path d="M8 1.5v13M1.5 8h13" stroke="currentColor" stroke-width="1.6" fill="none"/>',
    "damaged": '<path d="M8 1.5 15 14H1zM8 6v4M8 11.5v1.2" fill="none" stroke="currentColor" stroke-width="1.8"/>',
    "unreadable": '<path d="M2 2h12v12H2zM4.5 4.5l7 7m0-7-7 7" fill="none" stroke="currentColor" stroke-width="1.8"/>',
}


def mark(state: str) -> str:
    """Draw the mark of a state as SVG that says nothing by itself.

    Example:
        >>> mark("single").count("<path"), mark("none").count("<path")
        (1, 0)
    """
    inside = _OTHERS.get(state) or _window(QUARTERS[state])
    return (
        '<svg class="mark" viewBox="0 0 16 16" width="16" height="16" aria-hidden="true" focusable="false">'
        f"{inside}</svg>"
    )


def _window(quarters: int) -> str:
    if quarters == 0:
        return _FRAME
    if quarters == 4:
        return _FRAME + '<circle cx="8" cy="8" r="6.5" fill="currentColor"/>'
    large = 1 if quarters == 3 else 0
    return _FRAME + f'<path d="M8 8V1.5A6.5 6.5 0 {large} 1 {_ENDS[quarters]}z" fill="currentColor"/>'
