"""How much of the chips' table was seen in a document, of what a voltage or a place in a socket rests on.

    python -m tests.benchmarks.sourcing [--list]

A row counts where it gives the member at all. A way to program counts as seen where the row's choice of it is, and its
rule; the signals where every pin of the pinout is. `derived` members count as what they are derived from.
"""

from __future__ import annotations

import argparse

from imagekeeper.chips import find
from imagekeeper.chips.proofs.grounds import given
from imagekeeper.chips.sourcing import DECISIVE, on_memory
from imagekeeper.tables.chips import chip_rows, pinout_rows


def shares() -> dict[str, tuple[int, int]]:
    """By member: in how many rows a document was seen for it, and how many rows give it."""
    found = dict.fromkeys((*DECISIVE.values(), "pin signals"), (0, 0))
    for row in chip_rows().values():
        guessed = on_memory(find(row.id))
        for name, words in DECISIVE.items():
            if name in given(row):
                seen, all_of_them = found[words]
                found[words] = (seen + (words not in guessed), all_of_them + 1)
        seen, all_of_them = found["pin signals"]
        found["pin signals"] = (seen + (not pinout_rows()[row.pinout].unsourced), all_of_them + 1)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--list", action="store_true", help="name the chips, and what of each is from memory")
    if parser.parse_args().list:
        for part in chip_rows():
            print(f"{part:20} {', '.join(on_memory(find(part))) or '-'}")
    print("| member | rows that give it | seen in a document |\n| --- | --- | --- |")
    for name, (seen, all_of_them) in shares().items():
        print(f"| {name} | {all_of_them} | {seen} ({seen / max(all_of_them, 1):.0%}) |")
    whole = sum(not on_memory(find(part)) for part in chip_rows())
    print(f"| all of these | {len(chip_rows())} | {whole} ({whole / len(chip_rows()):.0%}) |")


if __name__ == "__main__":
    main()
