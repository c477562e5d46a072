"""What was erased, or would be."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page, painted
from imagekeeper.units import plural, size_text

if TYPE_CHECKING:   # what makes the result is slow to load
    from imagekeeper.jobs.carriers.erasing import Erasure


def erasure_text(result: Erasure) -> str:
    """Show what was erased, or would be, and how to go on."""
    head = f"{result.id}: " + (painted("erased", "care") if result.erased else "not erased yet; nothing was changed")
    what = f"{plural(result.files, 'file')}, {size_text(result.bytes)}, of {plural(result.version, 'version')}"
    lines = [head, f"  {'went' if result.erased else 'goes':8} {what}"]
    for one in result.holds[: parts.SHOWN]:
        size = "missing" if one.size_bytes is None else size_text(one.size_bytes)
        lines += parts.wrapped("           ", f"{one.path} ({size})")
    if len(result.holds) > parts.SHOWN:
        lines.append(f"           and {len(result.holds) - parts.SHOWN} more in the last version")
    stays = f"{result.stub}: the reason, and the digests of {plural(len(result.holds), 'file')}"
    lines += parts.wrapped(f"  {'stays':8} ", stays)
    lines.append(f"  version  {result.version}, inventory SHA-512 {result.inventory_sha512[:16]}…")
    lines += parts.wrapped("  reason   ", result.reason)
    lines += parts.wrapped("  ", "copies, bags and backups keep what they hold, and other carriers what came of it")
    if not result.erased:
        again = f"imagekeeper carrier erase {result.id} --reason {shlex.quote(result.reason)} --confirm {result.word}"
        lines += ["  This cannot be taken back. To erase it:", f"  {again}"]
    return page(lines)
