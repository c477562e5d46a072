"""The versions of the rules and tables that a verdict rests on."""

from __future__ import annotations

from imagekeeper.own import remembered

#: Of the rules that weigh evidence. Raise it whenever the same evidence may get another verdict.
EVIDENCE = 1

#: Of the rules that look at one image: `inspection` and `selfchecks`. Raise it whenever one may find something else.
EXAMINATION = 3


@remembered()
def examination_rules() -> str:
    """Name the rules and tables that look at one image.

    Example:
        >>> examination_rules().startswith("examination 3, tables ")
        True
    """
    from imagekeeper import tables  # read only where an image is looked at
    from imagekeeper.tables.chips import CHIP_TABLES  # with it

    return f"examination {EXAMINATION}, tables {tables.edition(*CHIP_TABLES, 'pinouts', 'crcs', 'frequencies')}"


def evidence_rules() -> str:
    """Name the rules that weigh evidence.

    Example:
        >>> evidence_rules()
        'evidence 1'
    """
    return f"evidence {EVIDENCE}"
