"""How often the search for built-in checks is sure of what is not there, and how often it finds what is.

Run it as `python -m tests.benchmarks.selfchecks [images [folder]]`. It searches images of noise, noise that is filled
behind, and pieces cut at any place from the files of a folder (those of `/usr/lib` that hold programs, if none is
given), whole and filled behind: each strong conclusion is shown. At most one noisy image in 1000 may have one; a piece
may have a real one, so look at what is shown. Then every convention is stored at the end and at the end of the used
part, and counted as found, and as found with strength.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from imagekeeper.containers.model import Image
from imagekeeper.selfchecks.figures import Figures
from imagekeeper.selfchecks.places import CheckPlace
from imagekeeper.selfchecks.search import check
from imagekeeper.selfchecks.stored import stored_rules

SIZES = (512, 1024, 2048, 4096, 8192, 16384, 32768)
FILLS = (0xFF, 0x00, 0xFF, 0x00, 0x76, 0x3F)
DICE = random.Random(22)


def filled(used: bytes, size: int) -> bytes:
    """Fill behind some bytes, now and then with vectors or a value behind the fill."""
    behind = DICE.randbytes(DICE.choice((0, 0, 2, 4, 6, 16)))
    return used + bytes([DICE.choice(FILLS)]) * (size - len(used) - len(behind)) + behind


def noise(count: int) -> Iterator[tuple[str, bytes]]:
    for _ in range(count):
        yield "noise", DICE.randbytes(DICE.choice(SIZES))


def filled_noise(count: int) -> Iterator[tuple[str, bytes]]:
    for _ in range(count):
        size = DICE.choice(SIZES)
        yield "noise, filled", filled(DICE.randbytes(DICE.randrange(64, size - 40)), size)


def pieces(count: int, folder: Path) -> Iterator[tuple[str, bytes]]:
    names = [
        path for path in folder.rglob("*")
        if path.is_file() and not path.is_symlink()
        and (path.suffix in (".so", ".pyc", ".o", ".a", ".bin", ".rom") or ".so." in path.name)
    ]  # fmt: skip
    for _ in range(count):
        path = DICE.choice(names)
        data, size = path.read_bytes(), DICE.choice(SIZES)
        at = DICE.randrange(max(len(data) - size, 1))
        piece = data[at : at + size]
        if len(piece) == size:
            yield f"piece of {path.name} from {at:X}", piece
            used = DICE.randrange(64, size - 40)
            yield f"piece of {path.name} from {at:X}, {used:X} bytes, filled", filled(piece[:used], size)


def search(name: str, images: Iterator[tuple[str, bytes]]) -> None:
    began, tried, strong, expected, hits = time.process_time(), 0, 0, 0.0, 0
    for what, data in images:
        result = check(Image.from_bytes(data))
        tried, expected = tried + 1, expected + result.expected_by_chance
        hits += sum(1 + len(one.also) for one in result.holds)
        for one in result.holds:
            if one.strong:
                strong += result.conclusion == "strong"
                print(f"  {what}: {one.id}, {one.title}, {one.where}: {one.computed}, {result.conclusion}")
    each = 1000 * (time.process_time() - began) / max(tried, 1)
    print(f"{name}: {tried} images, {strong} strong; {hits} hold where {expected:.0f} are foretold; {each:.1f} ms each")


def injected(count: int) -> None:
    for place in ("end", "used end"):
        print(f"stored at the {place}: found, strong, of {count}")
        for rule in stored_rules():
            found = strong = 0
            for number in range(count):
                size, width = 8192, rule.bits // 8
                used = size if place == "end" else DICE.randrange(200, 2000) * 4
                order = rule.order or ("little", "big")[number % 2]
                data = bytearray(DICE.randbytes(used - width))
                data[:2] = b"\x12\x34"
                where = CheckPlace(id=place, at=used - width, over=((0, used - width),), tier="usual")
                value = rule.value(Figures(bytes(data), []), where) % (1 << rule.bits)
                data += value.to_bytes(width, order) + bytes([DICE.choice((0xFF, 0x00))]) * (size - used)
                result = check(Image.from_bytes(bytes(data)))
                title = f"stored {rule.title}"
                hits = [
                    one for one in result.holds
                    if one.title.startswith(title) or any(also.startswith(title) for also in one.also)
                ]  # fmt: skip
                found, strong = found + bool(hits), strong + any(one.strong for one in hits)
            print(f"  {rule.id:28} {found:4} {strong:4}")


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    folder = Path(sys.argv[2]) if len(sys.argv) > 2 else Path("/usr/lib")
    search("noise", noise(count))
    search("noise, filled", filled_noise(count))
    search("pieces of programs", pieces(count, folder))
    injected(min(count, 20))


if __name__ == "__main__":
    main()
