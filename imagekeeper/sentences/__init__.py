"""What people read when something fails or is noticed: every sentence by its key, in one place.

An error or finding carries a key and values (`errors`, `findings`); here stand its words. A key is a code, or a code
and a short name of the case: `record-sum`, `record-digits/odd`. The modules beside this one are plain data, to be
read, reviewed or translated from top to bottom:

- `files`, `containers`, `listings`, `images`: what can be wrong with a file, what is in it, and what is to be done to
  an image
- `reads`, `causes`, `signs`: reads as they are compared and checked; why they differ; what one image shows by itself
- `disk_reads`, `one_read`: why reads of a disk differ, by cylinder, side and sector; what one alone tells of itself
- `chips`, `disks`: chips and their sockets; disks, drives and formats
- `systems`, `volumes`: file systems as they are described, and what is wrong with one
- `archive`, `carriers`: the archive and its copies; what is kept in it
- `evidence`: what speaks against an image, beside what it shows by itself
- `own_rows`: what a person wrote of chips, drives and disks, and what is wrong with it
- `steps`: what to do next after an answer that is no failure
- `own_faults`: what a check of our own work says when it fails

No sentence names a command or an option: whoever is called by one puts them in with `voice`.

The words `what` (the failure, without a full stop), `why` (the evidence: what was found, what was expected) and `next`
(what a person can do) are templates; `template` tells what may stand in their braces.
"""
