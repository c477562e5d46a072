"""Rows to be filled in: each kind of own row with comments."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar, Literal

from imagekeeper import files
from imagekeeper.errors import UsageError, Where

_HEAD = """\
# Every value stands in exactly one of these:
#   measured    you measured it: gives = the values, by = who, on = the day, how = how
#   sources     a document gives it; describe the document in a [[source]] of this file
#   derived     it follows from others: value = rule
#   unsourced   from memory: believed, and to be checked before anything depends on it
# To correct a row of the program's tables, give its id and only what is to be replaced.
# The example is invented: a chip of the Quillmere TG-85 tide recorder.
"""

_SOURCE = """
[[source]]
id = "tg85-manual"              # any name: rows of this file refer to it
kind = "manual"
author = "Quillmere"
title = "TG-85 tide recorder"
number = "85-03"                # this line and the next two may be left out
date = "1985"
pages = "17"
"""

_TEMPLATES: dict[str, str] = {
    "chip": _HEAD + _SOURCE + """
[[pinout]]
id = "dip24-qx27"               # leave the whole table out where a pinout of the program's fits
pins = 24
signals = [                     # pin 1 first; a leading / is active low; A0 and D0 are the least significant
  "A7", "A6", "A5", "A4", "A3", "A2", "A1", "A0", "D0", "D1", "D2", "GND",
  "D3", "D4", "D5", "D6", "D7", "A11", "A10", "/CE", "/CS", "A9", "A8", "Vcc",
]
measured = [
  { gives = ["1-17", "19-24"], by = "H. Okafor", on = "2026-03-02", how = "followed with an ohmmeter" },
]
unsourced = ["18"]

[[chip]]
id = "QX27"                     # as it is marked
technology = "mask-rom"
carrier = "mask-rom"
words = 4096
bits = 8
bytes = 4096
pins = 24
row_spacing_inch = 0.6          # [inch]
pinout = "dip24-qx27"
supplies_v = { Vcc = 5.0 }      # for reading, by pin [V]
access_ns = [450]               # [ns]
measured = [
  { gives = ["supplies_v"], by = "H. Okafor", on = "2026-03-02", how = "voltmeter at pin 24 in the running machine" },
]
sources = [
  { id = "tg85-manual", gives = ["technology", "words", "bits", "access_ns"] },
]
derived = { bytes = "words x bits / 8", carrier = "technology" }
unsourced = ["pins", "row_spacing_inch"]
""",
    "maker": _HEAD + _SOURCE + """
[[maker]]
chip = "2732A"                  # the id of the chip
maker = "Quillmere"
vpp_v = 21.0                    # [V]; or { from = 25.0, to = 27.0 }, { any = [12.5, 21.0] }
vpp_max_v = 22.0
sources = [
  { id = "tg85-manual", gives = ["vpp_v", "vpp_max_v"] },
]

[[signature]]
chip = "2732A"
maker = "Quillmere"
code = "9F 01"                  # the maker's code and the device code, in hexadecimal
measured = [
  { by = "H. Okafor", on = "2026-03-02", how = "read with A9 at 12 V from three chips" },
]
""",
    "drive": _HEAD + """
[[drive]]
id = "5.25-qd7"
title = "5.25-inch drive of the TG-85"
disk_inch = 5.25                # [inch]
tracks_per_inch = 48
pitch_mm = 0.52917              # 25.4 / tracks_per_inch [mm]
cylinders = 40
heads = 1
step_ms = [20.0, 6.0]           # figures met, the best last [ms]
interface = 34                  # lines: 34 or 50
supplies_v = [5, 12]            # [V]
density_select = "none"
ready = "nothing"
modes = [                       # that of its own disks first; data_rate is that of MFM [bit/s]
  { rotation = 300, data_rate = 250000, medium = "5.25-dd", density = "none" },
]
measured = [
  { gives = ["modes.rotation"], by = "H. Okafor", on = "2026-03-02", how = "index pulses counted" },
  { gives = ["cylinders", "step_ms"], by = "H. Okafor", on = "2026-03-02", how = "head stepped to its stop" },
]
derived = { pitch_mm = "25.4 / tracks_per_inch" }
unsourced = [
  "title", "disk_inch", "tracks_per_inch", "heads", "interface", "supplies_v", "density_select", "ready",
  "modes.data_rate", "modes.medium", "modes.density",
]
""",
    "medium": _HEAD + """
[[medium]]
id = "5.25-qx"
title = "5.25-inch disk of the TG-85"
disk_inch = 5.25                # [inch]
coercivity_oe = [300]           # [oersted]
coating = "iron oxide"
density_hole = "none: the host must be told"
index_hole = "one"
degauss = "A disk with a past is made blank with a bulk eraser for magnetic media, away from every other disk."
buy = "5.25-inch disk, double density, soft-sectored"
measured = [
  { gives = ["coercivity_oe"], by = "H. Okafor", on = "2026-03", how = "compared with known disks" },
]
unsourced = ["title", "disk_inch", "coating", "density_hole", "index_hole", "degauss", "buy"]
""",
    "format": _HEAD + """
[[format]]
id = "5.25-35x1x9x256-fm"       # size, cylinders x heads x sectors x bytes, and what tells it from others
title = "TG-85 tide tables"
aliases = ["TG-85"]
disk_inch = 5.25                # [inch]
tracks_per_inch = 48
cylinders = 35
heads = 1
sectors = 9
sector_bytes = 256
encoding = "fm"                 # fm, mfm or perpendicular
data_rate = 125000              # of the drive that it was made for [bit/s]
rotation = 300                  # [rev/min]
medium = "5.25-dd"
measured = [
  { gives = ["cylinders", "heads", "sectors", "sector_bytes"], by = "H. Okafor", on = "2026-03-02", how = "disk read" },
  { gives = ["encoding", "data_rate", "rotation"], by = "H. Okafor", on = "2026-03-02", how = "cells timed" },
]
derived = { medium = "disk_inch and the flux density of the track" }
unsourced = ["disk_inch", "tracks_per_inch"]
""",
}  # fmt: skip

#: The kinds of which there is a template.
KINDS = tuple(_TEMPLATES)


@dataclass(frozen=True)
class RowTemplate:
    """A row to be filled in.

    Attributes:
        kind: The kind of row.
        text: It, with comments: TOML.
        output: The file that it was written to, or null.
    """

    SCHEMA: ClassVar[Literal["own-row-template/1"]] = "own-row-template/1"

    kind: str
    text: str
    output: str | None = None


def new_row(kind: str, output: str | None = None) -> RowTemplate:
    """Give a row to be filled in, and write it to a new file where one is named; its folder is made.

    Args:
        kind: One of `KINDS`.
        output: The file, or None.

    Raises:
        UsageError: `exists`, `cannot-write`.
    """
    text = template(kind)
    if output is None:
        return RowTemplate(kind, text)
    if os.path.lexists(output):
        name = files.display_name(output)
        raise UsageError("exists/own-rows", name=name, where=Where(file=name))
    try:
        Path(output).parent.mkdir(exist_ok=True)
    except OSError as problem:
        raise files.unwritable(files.display_name(output), problem) from problem
    files.write_whole(output, [text.encode()])
    return RowTemplate(kind, text, files.display_name(output))


def template(kind: str) -> str:
    """Give the text of a row to be filled in; as it stands it can be used.

    Args:
        kind: One of `KINDS`: a chip comes with its pinout, a maker's figures with a signature.

    Example:
        >>> template("medium").splitlines()[-1][:12]
        'unsourced = '
    """
    return _TEMPLATES[kind]
