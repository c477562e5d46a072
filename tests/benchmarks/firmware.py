"""Real firmware from Debian's packages, in pieces of a chip's size.

    python -m tests.benchmarks.firmware [--folder FOLDER] [--fetch]

`--fetch` downloads the packages with Debian's ordinary client, also those for other architectures, unpacks them in the
folder without installing anything, and writes `pieces.tsv`: one line for each piece, `name, file, offset, size, half`,
parted by tabs. Files in text containers are decoded first, so that every file listed is raw bytes; a piece that reaches
beyond its file goes on as FF, as an EPROM does that is larger than its content.

The halves: rules may be tuned on pieces of files whose name has an even hash (`tune`), and are reported on the others
(`aside`). The name is that in the package, without the package's version, so that two versions are of one half.
"""

from __future__ import annotations

import argparse
import hashlib
import math
import re
import subprocess
import tempfile
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from imagekeeper.containers import intel_hex
from imagekeeper.errors import ImagekeeperError

Bytes = NDArray[np.uint8]
Half = Literal["tune", "aside"]

FOLDER = Path(tempfile.gettempdir()) / "firmware"

#: What to fetch: packages for every machine, and those for one architecture.
PACKAGES = {
    "amd64": (
        "seabios", "ipxe", "ipxe-qemu", "qemu-system-data", "opensbi", "u-boot-qemu", "sigrok-firmware-fx2lafw",
        "hdmi2usb-fx2-firmware", "firmware-ath9k-htc", "firmware-linux-free", "firmware-tomu", "nxt-firmware",
        "firmware-microbit-micropython", "ubertooth-firmware", "hackrf-firmware", "altos", "cbios", "bochsbios",
        "vgabios", "crust-firmware", "arduino-core-avr", "arduino-mighty-1284p", "memtest86+", "firm-phoenix-ware",
        "syslinux-common", "isolinux", "pxelinux", "ovmf", "ovmf-ia32", "qemu-efi-arm", "grub-firmware-qemu",
        "grub-pc-bin",
    ),
    "arm64": ("u-boot-amlogic", "u-boot-mvebu", "u-boot-qcom", "u-boot-rockchip", "u-boot-rpi", "u-boot-sunxi",
              "u-boot-tegra", "arm-trusted-firmware"),
    "armhf": ("u-boot-exynos", "u-boot-imx", "u-boot-omap", "u-boot-rockchip", "u-boot-rpi", "u-boot-stm32",
              "u-boot-sunxi", "u-boot-tegra"),
    "armel": ("u-boot", "u-boot-rpi"),
}  # fmt: skip

#: Of these every version that the archive still has: two builds of one program.
EVERY_VERSION = ("ovmf", "ovmf-ia32", "qemu-system-data", "grub-firmware-qemu", "grub-pc-bin", "qemu-efi-arm")

#: What firmware is called in them.
_SUFFIXES = (".bin", ".rom", ".fw", ".ihx", ".ihex", ".hex", ".fd", ".img", ".imx", ".itb", ".efi", ".c32", ".mod",
             ".dfu", ".lid", ".pxe", ".0")  # fmt: skip
_NAMES = ("SPL", "MLO", "openbios-", "BIOS-", "palcode-", "memdisk")

#: Sizes of pieces. [byte]
SIZES = tuple(1 << k for k in range(11, 20))

#: So many files of a package at most: the modules of one program are much alike.
_MOST_FILES = 40

#: So many pieces of one file at most.
_MOST_PIECES = 4

#: More is compressed or encrypted: chips of the period hold none. One piece in ten is kept. [bit/byte]
_DENSE = 7.8


@dataclass(frozen=True)
class Piece:
    """Where a piece of firmware is."""

    name: str
    path: Path
    offset: int
    size: int

    @property
    def family(self) -> str:
        """The package without architecture and version."""
        return self.name.partition("/")[0].partition(":")[0]

    @property
    def program(self) -> str:
        """Package and file, without version and place."""
        return self.name.partition("@")[0]

    @property
    def half(self) -> Half:
        return half_of(self.program)

    def load(self) -> Bytes:
        with self.path.open("rb") as file:
            file.seek(self.offset)
            data = file.read(self.size)
        return np.frombuffer(data.ljust(self.size, b"\xff"), np.uint8).copy()


def hashed(name: str) -> int:
    return int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], "big")


def half_of(program: str) -> Half:
    return "aside" if hashed(program) & 1 else "tune"


def entropy(data: Bytes) -> float:
    """Give the entropy of its values. [bit/byte]"""
    share = np.bincount(data, minlength=256) / len(data)
    share = share[share > 0]
    return float(-(share * np.log2(share)).sum())


def worth_reading(data: Bytes, name: str) -> bool:
    """Whether a piece has some variety, and is not compressed but in one of ten cases."""
    if len(np.unique(data)) < 24 or float(np.bincount(data).max()) / len(data) > 0.85:
        return False
    return entropy(data) <= _DENSE or hashed(name) % 10 == 0


# --- fetching


def fetch(folder: Path = FOLDER) -> None:
    """Download and unpack the packages; what is there already stays."""
    packed = folder / "deb"
    packed.mkdir(parents=True, exist_ok=True)
    for architecture, packages in PACKAGES.items():
        options = _options(folder, architecture)
        subprocess.run(["apt-get", *options, "update", "-q"], check=True, stdout=subprocess.DEVNULL)
        wanted: list[str] = []
        for package in packages:
            wanted += _versions(options, package) if package in EVERY_VERSION else [package]
        for package in wanted:
            done = subprocess.run(["apt-get", *options, "download", "-q", package], cwd=packed, capture_output=True)
            if done.returncode:
                print(f"not to be had: {package} for {architecture}")
    for _, _, deb in _packed(folder):
        target = folder / "x" / deb.stem
        if not target.exists():
            subprocess.run(["dpkg-deb", "-x", str(deb), str(target)], check=True)


def _options(folder: Path, architecture: str) -> list[str]:
    """Lists of another architecture in a place of their own, so that nothing of the system is changed."""
    place = folder / "apt" / architecture
    for name in ("lists/partial", "cache/archives/partial"):
        (place / name).mkdir(parents=True, exist_ok=True)
    values = {
        "APT::Architecture": architecture, "APT::Architectures::": architecture, "Dir::State::Lists": f"{place}/lists",
        "Dir::Cache": f"{place}/cache", "Dir::State::status": "/dev/null",
    }  # fmt: skip
    return [part for key, value in values.items() for part in ("-o", f"{key}={value}")]


def _versions(options: Sequence[str], package: str) -> list[str]:
    shown = subprocess.run(["apt-cache", *options, "show", package], capture_output=True, text=True).stdout
    return [f"{package}={version}" for version in re.findall(r"^Version: (\S+)", shown, re.MULTILINE)]


def _packed(folder: Path) -> Iterator[tuple[str, str, Path]]:
    """Give name, architecture and file of each package that is ours: others may lie beside them."""
    ours = {name for names in PACKAGES.values() for name in names}
    for deb in sorted((folder / "deb").glob("*.deb")):
        name, _, architecture = deb.stem.split("_")
        if name in ours:
            yield name, architecture, deb


# --- pieces


def _files(folder: Path) -> Iterator[tuple[str, str, Path]]:
    """Give (package, name in it, raw file) of each file of firmware, containers decoded."""
    for name, architecture, deb in _packed(folder):
        top = folder / "x" / deb.stem
        package = f"{name}:{architecture}" if architecture in ("arm64", "armhf", "armel") else name
        found = [
            p for p in sorted(top.rglob("*"))
            if p.is_file() and not p.is_symlink() and p.stat().st_size >= 1400
            and (p.suffix in _SUFFIXES or p.name.startswith(_NAMES)) and "/doc/" not in str(p)
        ]  # fmt: skip
        found.sort(key=lambda p: hashed(str(p.relative_to(top))))
        for path in found[:_MOST_FILES]:
            inner = str(path.relative_to(top)).removeprefix("usr/share/").removeprefix("usr/lib/")
            if path.suffix in (".hex", ".ihx", ".ihex"):
                decoded = _decoded(path, folder / "decoded" / deb.stem / f"{inner.replace('/', '-')}.bin")
                if decoded is None:
                    continue
                path = decoded
            yield package, inner, path


def _decoded(path: Path, target: Path) -> Path | None:
    if not target.exists():
        try:
            text, end, _ = path.read_bytes().upper().partition(b":00000001FF")   # some go on with a list of symbols
            image = intel_hex.read(text + end + b"\n")
        except ImagekeeperError:
            return None
        longest = max(image.segments, key=lambda segment: len(segment.data))
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(bytes(longest.data))
    return target


def _places(name: str, length: int) -> Iterator[tuple[int, int]]:
    """Give offset and size of the pieces of one file: the whole in the chip that it fills, and some inner ones."""
    whole = 1 << max(length - 1, 1).bit_length()
    if SIZES[0] <= whole <= SIZES[-1]:
        yield 0, whole
    for number in range(_MOST_PIECES * 2):
        size = SIZES[hashed(f"{name} {number} size") % len(SIZES)]
        if size < length:
            yield hashed(f"{name} {number} place") % (length // size) * size, size


def find(folder: Path = FOLDER) -> Iterator[Piece]:
    """Look through the unpacked packages for pieces."""
    seen: set[bytes] = set()
    for package, inner, path in _files(folder):
        program = f"{package}/{inner}"
        kept = 0
        for offset, size in dict.fromkeys(_places(program, path.stat().st_size)):
            piece = Piece(f"{program}@{offset:X}+{size:X}", path, offset, size)
            data = piece.load()
            digest = hashlib.sha256(data).digest()
            if digest not in seen and worth_reading(data, piece.name):
                seen.add(digest)
                kept += 1
                yield piece
            if kept == _MOST_PIECES:
                break


def pieces(folder: Path = FOLDER) -> tuple[Piece, ...]:
    """Give the pieces that `pieces.tsv` names.

    Raises:
        SystemExit: There is no list: nothing was fetched; or another one.
    """
    listed = folder / "pieces.tsv"
    if not listed.exists():
        raise SystemExit(f"no firmware in {folder}: python -m tests.benchmarks.firmware --fetch")
    rows = [line.split("\t") for line in listed.read_text().splitlines()]
    if not rows or any(len(row) != 5 for row in rows):
        raise SystemExit(f"{listed} is no list of pieces: python -m tests.benchmarks.firmware")
    return tuple(Piece(row[0], Path(row[1]), int(row[2]), int(row[3])) for row in rows)


# --- two versions of one program


def _stem(piece: Piece) -> str:
    """Give what builds of one program have in common: the package and the kind of file."""
    inner = piece.program.partition("/")[2]
    name = Path(inner).name
    return f"{piece.family}/{re.split(r'[-_.0-9]', name)[0]}{Path(name).suffix}"


def versions(found: Sequence[Piece], half: Half) -> Iterator[tuple[str, Bytes, Bytes]]:
    """Give pairs of unlike pieces at one place of two builds or versions of a program, in an order of chance.

    Pairs that are one content moved by some bytes and nothing else are left out: "bytes lost or gained" is what those
    are.
    """
    by_stem: dict[str, dict[tuple[str, Path], Piece]] = defaultdict(dict)
    for piece in found:
        if piece.half == half:
            by_stem[_stem(piece)][piece.program, piece.path] = piece
    couples = [
        (hashed(f"{a.program} {b.program} {a.path} {b.path}"), a, b)
        for group in by_stem.values() for number, a in enumerate(group.values())
        for b in list(group.values())[number + 1 : number + 12]
    ]  # fmt: skip
    couples.sort(key=lambda couple: couple[0])
    by_family: dict[str, list[tuple[int, Piece, Piece]]] = defaultdict(list)
    for couple in couples:
        by_family[couple[1].family].append(couple)
    turn = 0
    while any(by_family.values()):   # each family in turn, so that the largest does not speak for all
        for family in sorted(by_family):
            if turn < len(by_family[family]):
                yield from _at_places(*by_family[family][turn])
        turn += 1
        if all(turn >= len(group) for group in by_family.values()):
            return


def _at_places(seed: int, a: Piece, b: Piece) -> Iterator[tuple[str, Bytes, Bytes]]:
    shorter = min(a.path.stat().st_size, b.path.stat().st_size)
    for number in range(3):
        size = SIZES[hashed(f"{seed} {number}") % len(SIZES)]
        size = min(size, 1 << max(math.ceil(math.log2(shorter)), 11), SIZES[-1])
        offset = hashed(f"{seed} {number} place") % max(shorter // size, 1) * size
        name = f"{a.program} and {b.program} of {b.path.parent.name}@{offset:X}+{size:X}"
        one, two = (Piece(name, piece.path, offset, size).load() for piece in (a, b))
        if np.count_nonzero(one != two) < 16 or not (worth_reading(one, name) and worth_reading(two, name)):
            continue
        if not _only_moved(one, two):
            yield name, one, two


def _only_moved(one: Bytes, two: Bytes) -> bool:
    first = int(np.flatnonzero(one != two)[0])
    for a, b in ((one, two), (two, one)):
        at = min(first + 64, len(a) - 96)
        for place in (at, (at + len(a)) // 2, len(a) - 96):
            found = b.tobytes().find(a[place : place + 64].tobytes())
            if found < 0 or found == place or len(set(a[place : place + 64].tolist())) < 8:
                continue
            by = found - place
            mine = a[max(first, -by, 0) : len(a) - max(by, 0)]
            other = b[max(first, -by, 0) + by :][: len(mine)]
            if np.mean(mine[: len(other)] == other) > 0.97:
                return True
    return False


def main() -> None:
    """Fetch where asked to, list the pieces, and count them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--folder", type=Path, default=FOLDER)
    parser.add_argument("--fetch", action="store_true")
    options = parser.parse_args()
    if options.fetch:
        fetch(options.folder)
    found = list(find(options.folder))
    lines = [f"{p.name}\t{p.path}\t{p.offset}\t{p.size}\t{p.half}\n" for p in found]
    (options.folder / "pieces.tsv").write_text("".join(lines))
    for half in ("tune", "aside"):
        mine = [p for p in found if p.half == half]
        pairs = sum(1 for _ in versions(found, half))
        print(
            f"{half}: {len(mine)} pieces of {len({p.program for p in mine})} files of "
            f"{len({p.family for p in mine})} packages; {pairs} pairs of versions"
        )


if __name__ == "__main__":
    main()
