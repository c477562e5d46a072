"""A finding: one thing that a check noticed, with its evidence and the next step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from imagekeeper.errors import InternalError, Where

Severity = Literal["note", "warning", "fault"]

#: Every code that a finding can carry, with its meaning: the source of the reference page.
CODES: dict[str, str] = {
    "data-line-stuck": "A data line reads the same at every address of one read.",
    "data-line-unstable": "One data line differs now and then: a bad contact.",
    "data-lines-exchanged": "Data lines come out on each other's places.",
    "data-lines-shorted": "Two data lines are tied together: both carry the AND, or the OR, of the two.",
    "address-line-stuck": "An address line has no effect in one read.",
    "address-line-unstable": "Now and then a byte comes from the address with one line the other way.",
    "address-lines-exchanged": "Address lines come out on each other's places.",
    "address-lines-shorted": "Two address lines are tied together: both carry the AND, or the OR, of the two.",
    "mirrored": "An image is a shorter one several times over.",
    "shifted": "Bytes were lost or gained on the way, so that all after them lie elsewhere.",
    "truncated": "The end of a read is missing.",
    "charge-loss": "Bits go from 0 to 1 in single cells all over the chip: programmed cells lose their charge.",
    "weak-cells": "Single cells change with the supply voltage, and each only once as it rises.",
    "not-selected-at-times": "Now and then a whole byte is one value: the chip did not answer.",
    "contact-lost": "For a stretch one value stands in a read, or on one line of it; after it the read is right again.",
    "half-missing": "One half of a read is fill, or was not read: the other half is right.",
    "block-missing": "An aligned part of a read, such as a quarter, is fill.",
    "contention": "Several bits of a byte are pulled one way: something else drove the bus.",
    "slow-outputs": "Bits are wrong only where the byte before had the other value: they had no time to change.",
    "previous-byte-repeated": "A byte is the one of the address before: it was read too early.",
    "line-endings-changed": "A transfer added CR or LF, or took them away.",
    "flow-control-lost": "A transfer kept the characters DC1 and DC3 for itself.",
    "parity-in-bit-7": "Bit 7 of each byte is the parity of the other seven: a line with seven data bits.",
    "follows-reader": "A fault is in all reads of one reader, and in none of another's.",
    "cannot-tell": "Two or three causes explain the differences about equally well.",
    "random-noise": "Bits differ in no pattern.",
    "inverted": "Every bit is the opposite of the other read's.",
    "bytes-exchanged": "The bytes of each pair, or the halves of larger groups, are exchanged.",
    "bits-reversed": "The data lines come out in reverse, D0 on D7 and so on.",
    "lane-of": "A read is every second, or every fourth, byte of another.",
    "content-differs": "The reads hold different content over whole stretches.",
    "sides-swapped": "A read of a disk has side 0 and side 1 exchanged.",
    "side-twice": "A read of a disk has one side twice: the other was not selected.",
    "sides-order": "Reads of a disk have the tracks of two sides in different orders.",
    "side-missing": "A read of a disk has one side only.",
    "head-dead": "Nothing came from one side of a disk.",
    "cylinder-twice": "A step was missed: from a cylinder on a read has what belongs on the one before.",
    "cylinder-skipped": "A cylinder was stepped over: a read has what belongs on the next one.",
    "single-stepped": "A read of a disk has every cylinder twice.",
    "double-stepped": "A read of a disk has every other cylinder only.",
    "track-of-neighbour": "A track of a read holds what another one near it has.",
    "last-cylinders-missing": "A read of a disk lacks the last cylinders.",
    "first-sector-wrong": "All sectors of a read are moved by one, and one is missing: the first number was wrong.",
    "sectors-rotated": "The tracks of a read begin with another sector.",
    "sectors-interleaved": "The sectors of each track stand in another order than by number, or than in another read.",
    "track-lost": "Nothing came from whole tracks of a disk.",
    "sectors-filled": "Sectors of a read are fill where another read has content.",
    "weak-sectors": "Single sectors differ a little from read to read.",
    "radial-decay": "Bad sectors become more towards the first or the last cylinders.",
    "other-disk": "Reads come from two different disks.",
    "other-version": "Reads come from two states of one disk: some files were written in between.",
    "sectors-differ": "Sectors of two reads of a disk hold different content.",
    "blank": "Every byte of a read is FF: an erased chip, or one that did not answer.",
    "not-selected": "Every byte of a read is the same: the chip did not answer.",
    "floating-bus": "The bytes of a read follow their addresses: no chip drove the bus.",
    "ends-in-fill": "One value fills the end of an image: its content is smaller.",
    "chip-size-differs": "An image has another size than the type of chip that it is said to come from.",
    "not-diagnosed": "The reads are too large, or too many, for the causes to be looked for.",
    "sizes-differ": "The reads have different sizes; only their common part was compared.",
    "addresses-moved": "A read's addresses were shifted so that the reads could be laid side by side.",
    "same-file": "The same file was given more than once: it proves nothing about the chip.",
    "doubtful-bytes": "A read contains bytes that its container marks as doubtful.",
    "parity-stripped": "The characters of a text carried a parity bit, which was taken away.",
    "addresses-repeated": "A file gives addresses several times, and which value counts was chosen.",
    "agreed-outdated": "Reads were added to a carrier after its agreed image was settled.",
    "derived-outdated": "A derived image or a replacement was made from an image that is no evidence any more.",
    "sectors-not-read": "The list of its reader says of every read of an image that sectors were not read.",
    "not-examined": "An image was never looked at by itself, so that a fault that repeats itself may be in it.",
    "part-unlike-marking": "The part that a record names is another than the marking on the chip gives.",
    "row-contradicts": "The row of a chip contradicts itself, its pins, or what its makers' sheets give.",
    "part-unlike-package": "The package of a chip has another number of pins than its part.",
    "label-sum-differs": "The sum on a label is none of the image's sums.",
    "reference-differs": "A digest from elsewhere is not that of the image.",
    "reader-misreads": "A reader gave other bytes for a known chip than it holds.",
    "known-chip-weak": "The content of a known chip does not move every line, so that it proves little.",
    "empty-socket-answers": "A reader gave data for an empty socket.",
    "trial-failed": "The machine did not work with the image.",
    "no-majority": "At some addresses no value has more than half of the votes: they stay disputed.",
    "fill-outvotes": "Reads hold nothing but fill where others hold content without a majority: a vote would lose it.",
    "gaps-differ": "Some addresses are present in one read and a gap in another.",
    "header-sum-wrong": "A header asks for a sum of zero over a stated length, and the bytes give another.",
    "header-beyond-image": "The header of an extension ROM states more bytes than the image holds.",
    "volume-cut-short": "A file system states more sectors than the image holds.",
    "volume-header": "What a file system states of itself contradicts itself or the disk.",
    "tables-differ": "The copies of a file allocation table are not equal.",
    "table-start": "A file allocation table does not begin as it should.",
    "space-lost": "Space is marked as used, and no file uses it.",
    "space-shared": "Two files, or a file and the file system itself, use the same space.",
    "chain-broken": "The chain of a file's clusters ends where it should not: in free or bad space, or in itself.",
    "size-disagrees": "The stated size of a file and the space given to it do not fit.",
    "outside-volume": "An entry or a chain points outside the volume.",
    "too-scattered": "Files or free space lie in more pieces than are followed.",
    "directory-damaged": "A directory is not one, leads back to itself, or lacks what each must have.",
    "entry-damaged": "A directory entry states what cannot be.",
    "extent-missing": "A part of a file is missing between others.",
    "extent-twice": "A directory has the same part of a file twice.",
    "extent-order": "The parts of a file stand in another order in the directory: usual, and no damage.",
    "name-damaged": "A name holds bytes that no name can have.",
    "name-twice": "A directory has two entries of the same name.",
    "found-not-told": "A volume was found by what begins it, and no partition table tells of it.",
    "sectors-shifted": "An image has sectors too many or too few, so that what follows lies in the wrong place.",
    "head-silent": "One head of a drive gave nothing: all its tracks hold one fill.",
    "unread-perhaps": "Used space holds one fill, as a reader puts where it could not read.",
    "partition-damaged": "A partition table states what cannot be.",
    "bad-sector-in-file": "A sector that is listed as bad lies in a file.",
    "division-undecided": "How a disk is divided is not decided: another division explains it nearly as well.",
    "own-row": "An answer rests on a row that a person wrote, not on the tables that come with the program.",
    "own-row-wrong": "A row or file of a person's own tables cannot be used, and counts for nothing.",
    "bad-sector-in-system": "A sector that is listed as bad lies in what the file system itself needs.",
}


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing that a check noticed.

    Its sentences stand in `imagekeeper.sentences`; the finding carries their key and what to put into them. `of` makes
    one.

    Attributes:
        about: The key of its sentences: the code, or the code with the name of a case.
        code: One of `CODES`.
        severity: `note`, `warning` or `fault`.
        confidence: From 0 to 1.
        where: The place, as far as it is known.
        why: The evidence, in words with its counts.
        hint: What a person at the bench can do next.
        detail: The same evidence as typed values; its members depend on the code.
        values: What the sentences need beside the detail.

    Example:
        >>> found = Finding.of("mirrored/reads", "warning", 0.99, other="b.bin",
        ...                    detail={"read": "a.bin", "times": 2, "size_bytes": 2048})
        >>> found.code, found.why
        ('mirrored', 'a.bin is b.bin 2 times over')
    """

    about: str = field(metadata={"json": False})
    code: str = field(init=False)
    severity: Severity
    confidence: float
    where: Where
    why: str = field(init=False)
    hint: str = field(init=False)
    detail: dict[str, Any] = field(default_factory=dict)
    values: Mapping[str, Any] = field(default_factory=dict, metadata={"json": False})

    @classmethod
    def of(
        cls, about: str, severity: Severity, confidence: float, where: Where | None = None, *,
        detail: dict[str, Any] | None = None, **values: Any,
    ) -> Finding:  # fmt: skip
        """Make a finding of the key of its sentences and their values; those of the detail need no repeating."""
        return cls(
            about=about, severity=severity, confidence=confidence, where=where or Where(),
            detail=detail if detail is not None else {}, values=values,
        )  # fmt: skip

    def __post_init__(self) -> None:
        from imagekeeper.sentences.say import said  # not needed before something is found

        code = self.about.partition("/")[0]
        if code not in CODES or not 0 <= self.confidence <= 1:
            raise InternalError("internal/finding", key=self.about, chance=self.confidence)
        known = {**self.detail, **self.values}
        object.__setattr__(self, "code", code)
        object.__setattr__(self, "why", said(self.about, "why", known))
        object.__setattr__(self, "hint", said(self.about, "next", known))
