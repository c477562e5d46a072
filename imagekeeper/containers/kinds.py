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
        name="intel-hex", title="Intel HEX", recognise=intel_hex.recognise, read=intel_hex.read, write=intel_hex.write,
        source="Intel, Hexadecimal Object File Format Specification, revision A, 6 January 1988",
    ),
    Kind(
        name="s-record", title="Motorola S-record", recognise=s_record.recognise, read=s_record.read,
        write=s_record.write, source="Motorola, M68000 Family Programmer's Reference Manual, appendix C",
    ),
    Kind(
        name="tektronix-hex", title="Tektronix hex", recognise=tektronix.recognise, read=tektronix.read, write=None,
        source="secondary sources, which disagree about the second check value: both readings are accepted",
    ),
    Kind(
        name="tektronix-extended", title="extended Tektronix hex", recognise=tektronix.recognise_extended,
        read=tektronix.read_extended, write=tektronix.write_extended,
        source="secondary sources, checked against their worked records",
    ),
    Kind(
        name="mos-tape", title="MOS Technology paper tape", recognise=mos_tape.recognise, read=mos_tape.read,
        write=None, source="MOS Technology, KIM-1 User Manual, August 1976, appendix F",
    ),
    Kind(
        name="ti-txt", title="TI-TXT", recognise=ti_txt.recognise, read=ti_txt.read, write=ti_txt.write,
        source="Texas Instruments, SLAU101, section A.2",
    ),
    Kind(
        name="ascii-hex", title="ASCII-hex between STX and ETX", recognise=ascii_hex.recognise, read=ascii_hex.read,
        write=None, source="common practice of device programmers, no source; from memory",
    ),
    Kind(
        name="hex-text", title="a hexadecimal listing", recognise=hex_text.recognise, read=hex_text.read, write=None,
        source="none: what monitors, debuggers and terminals print",
    ),
)  # fmt: skip

BY_NAME: dict[str, Kind] = {kind.name: kind for kind in TEXT_KINDS}
