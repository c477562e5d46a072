"""The text that tells a person in thirty years what the folder is, and how to read it without this program."""

from __future__ import annotations

TEXT = """\
WHAT THIS FOLDER IS
===================

This is an archive of the contents of memory chips, disks and other data carriers, taken from old computers and
instruments. It was made with the program "imagekeeper". You do not need that program to read it: everything in
here is a plain file.

Title:     {title}
Identity:  {uuid}
Created:   {created}


WHAT LIES WHERE
===============

archive.json   marks this folder as an archive and repeats its identity
README.txt     this text
carriers/      the holdings: one folder for each carrier (a chip, a disk, a tape)
log/           commits.jsonl: every change, one line each; audit.jsonl: every check, one line each
staging/       work in progress; empty unless a change is under way or was cut off
quarantine/    what a repair took out of the holdings; nothing is ever thrown away unseen
lock           keeps two programs from writing at once; it means nothing otherwise

The folder carriers/ follows the Oxford Common File Layout (OCFL), version 1.1, an open standard for keeping
digital things. {layout}


HOW TO READ A CARRIER WITHOUT ANY PROGRAM
=========================================

Open the carrier's folder. The file inventory.json is text. Near its top, "head" names the newest version, such
as "v3". Under "versions", that version's "state" lists the carrier's files by name; the long number in front of
each is its SHA-512 digest. Look that number up under "manifest": beside it stands where the bytes lie, such as
"v1/content/reads/r1/image.bin". A file that did not change is stored once, in the version that brought it.

A carrier's files:

carrier.json              what the carrier is, where it sat, what is written on it
reads/r1/read.json        the first read: who read it, when, with what; addresses, digests, doubts
reads/r1/original/...     the file exactly as the reader wrote it
reads/r1/image.bin        the bytes it stands for, in address order; gaps are left out, and "segments" in
                          read.json says at which address each run of bytes belongs
agreed.json, agreed.bin   the image that the reads support, and how good the evidence for it is
events.jsonl              what happened, one JSON object a line, with PREMIS event types; "previous" is the
                          SHA-256 of the line before (without its line feed), so that no line can be changed
                          or taken away unnoticed
notes.json                remarks
photos.json, photos/      pictures, each file as it was given
derivations.json, derived/    images made from others, with the steps that made them
replacements.json, replacements/   new chips or disks made from the image: what was written, what was read back
merged/                   the copy that another archive had of this carrier when the two were brought together
machine.json              in place of carrier.json: the record of a machine, to which carriers belong by its name


HOW TO CHECK THAT NOTHING HAS CHANGED
=====================================

Each inventory.json has a file inventory.json.sha512 beside it with its SHA-512 digest. The inventory in turn
holds the SHA-512 digest of every file. On most systems the command "sha512sum" computes such digests. Any
validator for OCFL 1.1 can check all of carriers/ at once.

To keep this archive, copy the whole folder. It holds no links, and file times and permissions mean nothing.
"""

_LAYOUTS = {
    "0002": "Each carrier's folder is named as the carrier is.",
    "0003": (
        "Each carrier's folder is named as the carrier is (a dot is\nwritten %2e) and lies under two levels"
        " of folders, which are the first digits of the SHA-256 of the name."
    ),
}


def readme_text(*, title: str, uuid: str, created: str, layout: str) -> bytes:
    """Write the text for one archive."""
    return TEXT.format(title=title, uuid=uuid, created=created, layout=_LAYOUTS[layout]).encode()
