"""Whether a machine could start from a volume: what speaks for it and against it.

Only the machine can prove it. That a boot sector begins with a jump, ends in 55 AA and holds the names of the files
that it loads is common practice, no source; how much each weighs is our judgement.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from imagekeeper.filesystems.model import Boot
from imagekeeper.ranked import Evidence
from imagekeeper.units import plural

#: A file's name as a boot sector holds it: eight bytes filled with spaces, three bytes, no dot; one may follow another.
_LOADED = re.compile(
    rb"(?=[^ ].{7}(?:SYS|COM|BIN|EXE|OVL)(?!TEM))[A-Z0-9$#&@!%()_~^{}'-]{1,8} {0,7}(?:SYS|COM|BIN|EXE|OVL)"
)

_TEXT = re.compile(rb"[ -~\r\n]{12,}")

_DENIES = re.compile(r"not (?:a )?(?:boot|system)|non-?(?:boot|system)", re.IGNORECASE)


def boot_sector_evidence(sector: bytes, root_names: Sequence[bytes], code_at: int = 0x3E) -> Iterator[Evidence]:
    """Weigh the boot sector of a machine that loads files by name.

    Args:
        sector: The boot sector.
        root_names: The eleven bytes of every name of the root directory, in its order.
        code_at: Where code can begin behind the parameter block. [byte]

    Example:
        >>> code = bytes.fromhex("eb3c90") + bytes(range(1, 200)) + b"LOADER  SYS" + bytes(297) + bytes.fromhex("55aa")
        >>> [one.says for one in boot_sector_evidence(code, [b"LOADER  SYS"])][2:]
        ['it ends in 55 AA', 'it names LOADER.SYS, which is file 1 of the root directory']
    """
    if sector[:1] == b"\xe9" or (sector[:1] == b"\xeb" and sector[2:3] == b"\x90"):
        yield Evidence(f"the boot sector begins with a jump ({sector[:3].hex(' ').upper()})", 1.0)
    else:
        yield Evidence(f"the boot sector begins with {sector[:3].hex(' ').upper()}, which is no jump", -1.5)
    code = sector[code_at:510]
    different = len(set(code))
    if different <= 2:
        yield Evidence("where its code should be there is only fill", -4.0)
    else:
        yield Evidence(f"where its code should be {plural(different, 'different byte')} stand", 0.5)
    if sector[510:512] == b"\x55\xaa":
        yield Evidence("it ends in 55 AA", 0.5)
    else:
        yield Evidence("it does not end in 55 AA, which early machines did not ask for", -0.5)
    yield from _named(code, root_names)
    for text in _TEXT.findall(code):
        said = " ".join(text.decode("ascii").split())
        if _DENIES.search(said):
            yield Evidence(f'it says "{said[:60]}", as the sector of a disk without a system may', -1.5)
            break


def _named(code: bytes, root_names: Sequence[bytes]) -> Iterator[Evidence]:
    for raw in dict.fromkeys(one for one in _LOADED.findall(code) if len(one) == 11):
        name = f"{raw[:8].decode('ascii').rstrip()}.{raw[8:].decode('ascii')}"
        if raw not in root_names:
            yield Evidence(f"it names {name}, which is not in the root directory", -2.0)
            continue
        place = root_names.index(raw) + 1
        yield Evidence(f"it names {name}, which is file {place} of the root directory", 2.0 if place <= 2 else 1.0)


def system_area_evidence(name: str, content: bytes) -> Iterator[Evidence]:
    """Weigh an area that is reserved for the system: tracks or sectors before the files.

    Example:
        >>> [one.says for one in system_area_evidence("the reserved tracks", bytes([0xE5]) * 512)]
        ['the reserved tracks hold nothing but E5']
    """
    if not content:
        return
    if content.count(content[0]) == len(content):
        yield Evidence(f"{name} hold nothing but {content[0]:02X}", -2.0)
    else:
        fill = max(content.count(byte) for byte in (0x00, 0xE5, 0xF6, 0xFF))
        share = 1 - fill / len(content)
        yield Evidence(f"{name} are not blank: {share:.0%} of the bytes are no fill", 1.0 if share > 0.2 else 0.5)


def judge(evidence: Iterable[Evidence]) -> Boot:
    """Conclude.

    Example:
        >>> judge([Evidence("the reserved tracks hold nothing but E5", -2.0)]).likely
        False
    """
    reasons = tuple(sorted(evidence, key=lambda one: -abs(one.weight)))
    total = sum(one.weight for one in reasons)
    if total >= 2:
        return Boot(True, "A machine can probably start from it.", reasons)
    if total <= -1:
        return Boot(False, "It is probably not made to start a machine from.", reasons)
    return Boot(None, "Its bytes do not tell whether a machine can start from it.", reasons)
