"""What is searched, and how much it counts."""

from __future__ import annotations

#: What is searched, and how much a match there counts: what names a thing comes before what is said of it.
FIELDS: dict[str, float] = {
    "id": 1.0, "position": 0.95, "part": 0.95, "name": 0.95, "serial": 0.95, "machine": 0.9, "model": 0.9,
    "board": 0.85, "label": 0.8,
    "maker": 0.7, "markings": 0.7, "date code": 0.7, "file": 0.65, "owner": 0.6, "kind": 0.6, "specimen": 0.5,
    "reader": 0.5, "operator": 0.5, "drive": 0.5, "adapter": 0.45, "controller": 0.45, "cable": 0.4,
    "package": 0.45, "condition": 0.45, "picture": 0.45, "caption": 0.45,
    "derived image": 0.4, "taken out": 0.4, "note": 0.4, "remark": 0.4, "read note": 0.4, "written by": 0.3,
}  # fmt: skip

#: From here on a field names the thing.
NAMING = 0.8
