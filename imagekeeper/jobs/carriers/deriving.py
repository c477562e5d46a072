"""Make an image from others of the archive, and keep how, so that it can be made again and checked."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Any, ClassVar, Literal

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import UsageError
from imagekeeper.jobs.carriers.extracting import StoredImage, stored
from imagekeeper.jobs.images.transforming import transform
from imagekeeper.jobs.images.wanting import WantedSteps, check
from imagekeeper.jobs.session import SOFTWARE, Session, next_event, user
from imagekeeper.jsonable import to_json
from imagekeeper.provenance import places
from imagekeeper.provenance.derivations import Derivation, DerivationSource
from imagekeeper.provenance.events import append_events, last_digest
from imagekeeper.provenance.fields import read_json, write_json
from imagekeeper.provenance.vouching import vouched
from imagekeeper.sentences.say import Phrase
from imagekeeper.transforms.replaying import StepTaken


@dataclass(frozen=True)
class Derived:
    """An image that was made from others and kept.

    Attributes:
        id: The carrier that keeps it.
        derivation: The record of it.
        steps: What was done, in order, with the sizes between.
    """

    SCHEMA: ClassVar[Literal["derivation/1"]] = "derivation/1"

    id: str
    derivation: Derivation
    steps: tuple[StepTaken, ...]


def derive(
    archive: ArchiveStore, carrier_id: str, wanted: WantedSteps, session: Session, *,
    what: str = "agreed", fill: int | None = None, title: str | None = None,
) -> Derived:  # fmt: skip
    """Make an image from one of a carrier's, and keep it with the steps that made it.

    Args:
        archive: The archive.
        carrier_id: The carrier; it also keeps the result.
        wanted: What is to be done; its `join` names carriers, whose agreed images are joined.
        session: Who works.
        what: From which image: `agreed`, or the id of a read or derived image.
        fill: The byte that closes gaps and pads, or None.
        title: What it is for.

    Raises:
        UsageError: `usage` where nothing is to be done or options clash; a step that does not fit.
        NotFoundError: `carrier-missing`; `not-found` for an image that a carrier has not.
        ArchiveError: `archive-damaged`.
    """
    if not wanted.anything and fill is None:
        raise _nothing(Phrase("usage/no-step"))
    check(wanted, fill)
    archive.inventory(carrier_id)
    with archive.lock(), ExitStack() as stack:
        inventory = archive.inventory(carrier_id)
        record = load_record(archive, carrier_id, inventory)
        sources = [(carrier_id, stored(archive, record, inventory, what, stack))]
        sources += [(other, _agreed(archive, other, stack)) for other in wanted.join]
        done = transform([one.image for _, one in sources], [one.name for _, one in sources], wanted, fill)
        if not done.steps:   # a byte for gaps alone, and there are none
            raise _nothing(Phrase("usage/no-step-no-gaps"))
        data = done.image.tobytes()
        held = _held(archive, carrier_id)
        name = f"d{len(held) + 1}"
        now = session.now()
        made = Derivation(
            id=name, title=title,
            sources=tuple(DerivationSource(carrier, one.what, one.sha256) for carrier, one in sources),
            steps=tuple(to_json(step.record) for step in done.steps), sha256=done.steps[-1].sha256,
            size_bytes=len(data), path=places.derived(name), software=SOFTWARE, added=now,
            first_address=done.image.first_address, doubts=done.image.doubts,
        )  # fmt: skip
        events = archive.read_file(carrier_id, places.EVENTS, inventory)
        event = next_event(
            last_digest(events), session, now, "normalization",
            f"{name} was made from {_said(sources)} by {', '.join(step.name for step in done.steps)}",
            sources=[f"sha256:{one.sha256}" for _, one in sources], outcomes=[places.derived(name)],
        )  # fmt: skip
        changes: dict[str, Source | None] = {
            places.derived(name): data,
            places.DERIVATIONS: write_json([*held, made]),
        }
        changes[places.EVENTS] = append_events(events, vouched([event], changes))
        archive.commit(
            carrier_id, changes, message=f"derived image {name}", user=user(session), now=now,
            expected_head=inventory.head,
        )  # fmt: skip
    return Derived(carrier_id, made, done.steps)


def _nothing(why: Phrase) -> UsageError:
    return UsageError("usage/nothing-to-do", trouble=why)


def _agreed(archive: ArchiveStore, carrier_id: str, stack: ExitStack) -> StoredImage:
    inventory = archive.inventory(carrier_id)
    return stored(archive, load_record(archive, carrier_id, inventory), inventory, "agreed", stack)


def _held(archive: ArchiveStore, carrier_id: str) -> list[Any]:
    inventory = archive.inventory(carrier_id)
    if places.DERIVATIONS not in inventory.state:
        return []
    held = read_json(archive.read_file(carrier_id, places.DERIVATIONS, inventory), places.DERIVATIONS)
    return held if isinstance(held, list) else [held]


def _said(sources: Sequence[tuple[str, StoredImage]]) -> str:
    return " and ".join(f"{carrier} {one.what}" for carrier, one in sources)
