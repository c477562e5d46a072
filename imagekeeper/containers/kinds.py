"""The kinds of container that we know: one row each, in the order in which they are listed to people."""

from __future__ import annotations

import imagekeeper.containers.ascii_hex as ascii_hex
import imagekeeper.containers.hex_text as hex_text
import imagekeeper.containers.intel_hex as intel_hex
import imagekeeper.containers.mos_tape as mos_tape
import imagekeeper.containers.s_record as s_record
import imagekeeper.containers.tektronix as tektronix
import imagekeeper.containers.ti_txt as ti_txt
from imagekeeper.containers.registry import Kind

#: The text kinds. Raw is not among them: it is what remains, and may be of any size.
TEXT_KINDS: tuple[Kind, ...] = (
    Kind(
        "intel-hex", "Intel HEX", intel_hex.recognise, intel_hex.read, intel_hex.write,
        "Intel, Hexadecimal Object File Format Specification, revision A, 6 January 1988",
    ),
    Kind(
        "s-record", "Motorola S-record", s_record.recognise, s_record.read, s_record.write,
        "Motorola, M68000 Family Programmer's Reference Manual, appendix C",
    ),
    Kind(
        "tektronix-hex", "Tektronix hex", tektronix.recognise, tektronix.read, None,
        "secondary sources, which disagree about the second check value: both readings are accepted",
    ),
    Kind(
        "tektronix-extended", "extended Tektronix hex", tektronix.recognise_extended, tektronix.read_extended,
        tektronix.write_extended, "secondary sources, checked against their worked records",
    ),
    Kind(
        "mos-tape", "MOS Technology paper tape", mos_tape.recognise, mos_tape.read, None,
        "MOS Technology, KIM-1 User Manual, August 1976, appendix F",
    ),
    Kind(
        "ti-txt", "TI-TXT", ti_txt.recognise, ti_txt.read, ti_txt.write,
        "Texas Instruments, SLAU101, section A.2",
    ),
    Kind(
        "ascii-hex", "ASCII-hex between STX and ETX", ascii_hex.recognise, ascii_hex.read, None,
        "common practice of device programmers, no source; from memory",
    ),
    Kind(
        "hex-text", "a hexadecimal listing", hex_text.recognise, hex_text.read, None,
        "none: what monitors, debuggers and terminals print",
    ),
)  # fmt: skip

BY_NAME: dict[str, Kind] = {kind.name: kind for kind in TEXT_KINDS}
