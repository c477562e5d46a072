"""How the bytes of the original are laid out in the chip that takes its place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from imagekeeper.chips import Chip
from imagekeeper.errors import UsageError
from imagekeeper.substitution.joints import Joint
from imagekeeper.substitution.results import ImagePlan

#: What is to be done with an image that stays as it is.
AS_IT_IS = "the image as it is"

_PARTS = {2: "half", 4: "quarter", 8: "eighth", 16: "sixteenth"}


def plan(joints: Sequence[Joint], chip: Chip, socket: Chip) -> ImagePlan:
    """Work out which part of the chip the machine sees, and in which order.

    Args:
        joints: What every pin of the chip is joined to; each fits.
        chip: The chip.
        socket: The chip that the socket was wired for.
    """
    lines = len(chip.address_lines)
    taken: dict[int, int | None] = {}
    held = 0
    reasons = []
    for one in joints:
        if one.need.kind != "address":
            continue
        line = one.given[0]
        taken[one.need.number] = line.number if line.kind == "address" else None
        if line.kind != "address":
            high = line.high
            held |= high << one.need.number
            reasons.append(f"pin {one.pin} ({one.need.name}) is held {'high' if high else 'low'}")
    address_from = tuple(taken[n] for n in range(lines))
    data = {one.given[0].number: one.need.number for one in joints if one.need.kind == "data" and one.given
            and one.given[0].kind == "data"}  # fmt: skip
    data_to = tuple(data[n] for n in range(min(socket.bits, chip.bits)))
    seen = held | sum(1 << n for n, board in enumerate(address_from) if board is not None)
    crossed = any(board not in (None, n) for n, board in enumerate(address_from))
    crossed |= data_to != tuple(range(len(data_to)))
    copies = max(1, chip.words // socket.words)
    part = _part(held, seen, copies, socket.words)
    return ImagePlan(
        says=_says(chip, socket, copies, part, (held, seen), reasons, crossed, address_from, data_to), copies=copies,
        seen_first=held, seen_last=seen, part=part, address_from=address_from, data_to=data_to,
    )  # fmt: skip


def both_ram(chip: Chip, socket: Chip) -> bool:
    """Tell whether the machine itself fills the chip, as it filled the original: then no image is put into it."""
    return {chip.carrier, socket.carrier} <= {"ram", "clock-ram"}


def unchanged(chip: Chip) -> ImagePlan:
    """Give the plan of a chip that takes its own place."""
    lines = tuple(range(len(chip.address_lines)))
    return ImagePlan(
        says=AS_IT_IS, copies=1, seen_first=0, seen_last=chip.words - 1, part="all", address_from=lines,
        data_to=tuple(range(chip.bits)),
    )  # fmt: skip


def halves(plan: ImagePlan) -> ImagePlan:
    """Give the plan of two chips, each with the bytes of one half of the words; in each they lie as in one chip."""
    return replace(plan, says=(
        "split the image: its even bytes (the low byte of each word, D0 to D7) go into the first chip, its odd bytes "
        f"(D8 to D15) into the second; of each half, {plan.says}"
    ))  # fmt: skip


def _part(first: int, last: int, copies: int, words: int) -> str:
    if copies == 1:
        return "all"
    if last - first != words - 1:
        return "scattered"
    number = first // words
    if copies == 2:
        return ("lower half", "upper half")[number]
    if copies in _PARTS:
        return f"{_PARTS[copies]} {number + 1} of {copies}"
    names = {0: "first", copies - 1: "last"}
    return f"{names[number]} of {copies} parts" if number in names else f"part {number + 1} of {copies}"


def _says(
    chip: Chip, socket: Chip, copies: int, part: str, seen: tuple[int, int], reasons: Sequence[str], crossed: bool,
    address_from: Sequence[int | None], data_to: Sequence[int],
) -> str:  # fmt: skip
    parts = []
    if chip.words < socket.words:
        times = socket.words // chip.words
        parts.append(
            f"the chip holds only 1/{times} of the original: good only if the machine uses no more than that"
            if both_ram(chip, socket)
            else f"the chip holds only 1/{times} of the original: good only if the image is {times} equal parts"
        )
    if copies > 1:
        digits = len(f"{chip.words - 1:X}")
        where = f"{seen[0]:0{digits}X} to {seen[1]:0{digits}X}"
        told = f"fill the chip with the image repeated {copies} times, or put it into the {part} ({where})"
        if both_ram(chip, socket):
            told = f"the machine uses {where} of it only"
        parts.append(f"{told}, since {' and '.join(reasons)}")
    if crossed:
        moved = [f"the chip's A{n} carries the board's A{board}" for n, board in enumerate(address_from)
                 if board not in (None, n)]  # fmt: skip
        moved += [f"the chip's D{chips} drives the board's D{n}" for n, chips in enumerate(data_to) if n != chips]
        parts.append("rearrange the image: " + ", ".join(moved))
    return "; ".join(parts) or ("the machine fills it" if both_ram(chip, socket) else AS_IT_IS)


def arranged(original: bytes, plan: ImagePlan, word_bytes: int = 1) -> bytes:
    r"""Lay out an image for the chip: repeated over lines that are held, rearranged where lines are crossed.

    Args:
        original: What the original held: its words from the first on.
        plan: How it is laid out.
        word_bytes: The size of a word, low byte first: 1, or 2 for chips of 16 bits. [byte]

    Raises:
        UsageError: `does-not-fit` when the chip is too small, and the image is no repetition of what it holds.

    Example:
        >>> from imagekeeper.substitution import fit
        >>> plan = fit("2716", "2732").image
        >>> arranged(bytes(2047) + b"\x01", plan)[-2:], len(arranged(bytes(2048), plan))
        (b'\x00\x01', 4096)
    """
    lines = [(n, board) for n, board in enumerate(plan.address_from) if board is not None]
    size = 1 << len(plan.address_from)
    if lines == [(n, n) for n in range(len(lines))] and plan.data_to == tuple(range(len(plan.data_to))):
        once = original[: word_bytes << len(lines)]   # the usual case, and a hundred times faster
        if original != once * (len(original) // max(1, len(once))):
            raise _too_large(size, len(original) // word_bytes)
        return once * (size >> len(lines))
    words = [_permuted(original[at : at + word_bytes], plan.data_to) for at in range(0, len(original), word_bytes)]
    reached = sum(1 << board for _, board in lines)
    if any(word != words[n & reached] for n, word in enumerate(words)):
        raise _too_large(size, len(words))
    return b"".join(words[sum((chip >> n & 1) << board for n, board in lines)] for chip in range(size))


def _too_large(size: int, words: int) -> UsageError:
    return UsageError("does-not-fit/no-repetition", held=size, words=words)


def _permuted(word: bytes, data_to: Sequence[int]) -> bytes:
    value = int.from_bytes(word, "little")
    moved = sum((value >> board & 1) << chip for board, chip in enumerate(data_to))
    return moved.to_bytes(len(word), "little")
