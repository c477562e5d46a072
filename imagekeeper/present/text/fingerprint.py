"""Size, sums and digests of an image."""

from __future__ import annotations

from imagekeeper.fingerprints import Fingerprint, Fingerprints
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.units import address_digits, range_text, size_text


def fingerprints_text(result: Fingerprints) -> str:
    """Show the fingerprints of several files."""
    return "\n\n".join(map(fingerprint_text, result.files))


def fingerprint_text(figures: Fingerprint) -> str:
    """Show one file's fingerprint."""
    digits = address_digits(figures.first_address + figures.span_bytes)
    rows = [
        ["size", f"{size_text(figures.size_bytes)}, {parts.container(figures.container, figures.wrapped_in)}"],
        ["addresses", range_text(figures.first_address, figures.span_bytes, digits)],
    ]
    if figures.gaps:
        listed = ", ".join(range_text(gap.start, gap.length, digits) for gap in figures.gaps[:parts.SHOWN])
        more = f" and {len(figures.gaps) - parts.SHOWN} more" if len(figures.gaps) > parts.SHOWN else ""
        rows.append(["gaps", f"{listed}{more}: nothing is known of these, and the figures leave them out"])
    rows += [
        ["sums", f"{figures.sum16} (16 bits), {figures.sum8} (8), {figures.sum32} (32), {figures.xor8} (exclusive or)"],
        ["CRC-32", figures.crc32],
        ["SHA-1", figures.sha1],
        ["SHA-256", figures.sha256],
    ]
    rows += [[name, value or "none: an odd number of bytes"] for name, value in figures.more.items()]
    if figures.blank is not None:
        rows.append(["blank", f"every byte is {figures.blank}: an erased chip, or one that was not selected"])
    lines = [figures.name, *parts.table(rows)]
    for one in figures.doubts[:parts.SHOWN]:
        lines.append(f"  doubtful   {parts.doubt(one)}")
    if len(figures.doubts) > parts.SHOWN:
        lines.append(f"  doubtful   and {len(figures.doubts) - parts.SHOWN} more; --json lists all")
    return page(lines)
