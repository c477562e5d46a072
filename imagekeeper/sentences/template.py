"""Templates of sentences: text with values in braces, each shown in one of a few ways.

`{size:size}` is a size in bytes with the customary figure, `{count:plural read}` or `{count:plural entry/entries}` a
count of things, `{names:list}` and `{names:list and}` several with commas or with a word between them, `{text:line}` a
name made safe for one line and `{text:line 80}` about 80 characters of it, from its beginning and its end,
`{text:quoted 40}` the same in quotation marks. All else is as `str.format` has it: `{address:04X}`, `{volts:g}`,
`{text!r}`.
"""

from __future__ import annotations

import string
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from imagekeeper.jsonable import one_line
from imagekeeper.legible import escaped, shortened
from imagekeeper.units import plural, size_text


class _Missing:
    """A value that nobody gave: it shows its name, whatever form was asked for."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __str__(self) -> str:
        return self._name


class _Formatter(string.Formatter):
    def get_value(self, key: int | str, args: Sequence[Any], kwargs: Mapping[str, Any]) -> Any:
        return kwargs.get(str(key), _Missing(str(key)))

    def convert_field(self, value: Any, conversion: str | None) -> Any:
        return value if isinstance(value, _Missing) else super().convert_field(value, conversion or None)

    def format_field(self, value: Any, format_spec: str) -> str:
        form, _, rest = format_spec.partition(" ")
        if isinstance(value, _Missing) or not form:
            return str(value)
        if form == "size":
            return size_text(value)
        if form == "plural":
            one, _, many = rest.partition("/")
            return plural(value, one, many or None)
        if form == "list":
            return (f" {rest} " if rest else ", ").join(map(str, value))
        if form == "line":
            return _cut(one_line(str(value)), rest)
        if form == "quoted":
            return repr(_cut(str(value), rest))
        return str(format(value, format_spec))


def _cut(text: str, most: str) -> str:
    return shortened(text, int(most)) if most else text


_FORMATTER = _Formatter()


def fill(template: str, values: Mapping[str, Any]) -> str:
    """Put values into a template. Nothing is ever raised: what cannot be shown stays as it stands.

    What a value holds that would drive a terminal, or change how the sentence reads, becomes an escape.

    Example:
        >>> fill("{reads:plural read} of {size:size}, at {at:04X}", {"reads": 2, "size": 2048, "at": 31})
        '2 reads of 2048 bytes (2K), at 001F'
        >>> fill("{names:list and}; {text:quoted 3}; {lost:04X}", {"names": ["a", "b"], "text": "x" * 99})
        "a and b; 'xx … 96 characters left out … x'; lost"
    """
    try:
        return escaped(_FORMATTER.vformat(template, (), values))
    except (ValueError, TypeError, KeyError, IndexError, AttributeError, OverflowError, MemoryError):
        return template


def placeholders(template: str) -> Iterator[str]:
    """Name the values that a template needs, those within forms too.

    Example:
        >>> list(placeholders("{start:0{digits}X} to {end}"))
        ['start', 'digits', 'end']
    """
    for _, name, form, _ in string.Formatter().parse(template):
        if name is not None:
            yield name
            yield from placeholders(form or "")
