"""Programs and files from outside that tests compare with: found here, and nowhere else.

A test that wants one says so with `needs`, and is skipped with the tool's name where it is not installed. With the
environment variable IMAGEKEEPER_TESTS_NO_TOOLS set, all of them count as not installed: that is how the gate plays a
machine that has Python and nothing else. `python -m tests.tools` prints the Debian packages that are missing here.
"""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import pytest

HIDDEN = "IMAGEKEEPER_TESTS_NO_TOOLS"

#: Each tool, and the Debian package that brings it.
PACKAGES = {
    "chromium": "chromium",        # judges the pages of reports; no test of pytest needs it
    "cksum": "coreutils",
    "cmp": "diffutils",
    "fsck.fat": "dosfstools",
    "hexdump": "bsdextrautils",
    "md5sum": "coreutils",
    "mkfs.fat": "dosfstools",
    "npm": "npm",                  # brings the accessibility checker that is put into those pages
    "objcopy": "binutils",
    "od": "coreutils",
    "option ROMs": "seabios",      # files, not a program
    "sha1sum": "coreutils",
    "sha256sum": "coreutils",
    "xxd": "xxd",
}

#: Where programs of the system's administrator lie, which are not on everybody's PATH.
_MORE_FOLDERS = ("/usr/sbin", "/sbin", "/usr/bin", "/bin")
_OPTION_ROMS = Path("/usr/share/seabios")


def hidden() -> bool:
    """Whether all tools count as not installed."""
    return bool(os.environ.get(HIDDEN))


def option_roms() -> list[Path]:
    """Give the option ROMs that others built; none, where they are not installed."""
    return [] if hidden() else sorted(_OPTION_ROMS.glob("vgabios-*.bin"))


def find(name: str) -> str | None:
    """Give the path of a program, or the folder of the files, that `PACKAGES` knows by this name."""
    if name not in PACKAGES:
        raise LookupError(f"tests/tools.py knows no {name!r}")
    if hidden():
        return None
    if name == "option ROMs":
        return str(_OPTION_ROMS) if option_roms() else None
    return shutil.which(name, path=os.pathsep.join((os.environ.get("PATH", os.defpath), *_MORE_FOLDERS)))


def path(name: str) -> str:
    """Give the path of a program in a test that is marked with `needs`."""
    found = find(name)
    assert found is not None, f"a test that uses {name} is marked with needs({name!r})"
    return found


def needs(*names: str) -> pytest.MarkDecorator:
    """Mark a test, or one of its cases, as one that compares with these tools; `conftest.py` skips it without them."""
    for name in names:
        find(name)   # a name that is not known is an error here, not a skip for ever
    return pytest.mark.outside_tool(*names)


def why_not(names: tuple[str, ...]) -> str | None:
    """Say why a test that needs these tools cannot run here; None when it can."""
    absent = [name for name in names if find(name) is None]
    if not absent:
        return None
    told = ", ".join(f"{name} (Debian package {PACKAGES[name]})" for name in absent)
    return f"hidden by {HIDDEN}: {told}" if hidden() else f"not installed: {told}"


if __name__ == "__main__":
    sys.stdout.write(" ".join(sorted({package for name, package in PACKAGES.items() if find(name) is None})) + "\n")
