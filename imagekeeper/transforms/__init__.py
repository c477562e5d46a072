"""Transformations of an image's bytes, each exact, each recorded so that it can be done again.

`sizes`, `lanes` and `bits` do the work for chips, `imagekeeper.floppy.arrangement` for disks. A step of `steps` names
one of them with its parameters; `replaying` reads recorded steps and does them again.
"""
