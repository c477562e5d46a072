"""Re-proving names whoever changes one field of a record and signs every digest above it again.

The whole of it is run by hand, `python -m tests.tampering`; here a part of it, spread over all records.
"""

from __future__ import annotations

import pytest

from imagekeeper.jobs.archive.auditing import audit_archive
from imagekeeper.jobs.session import now
from tests.tampering import EXCUSED, Leaf, changed, excuse, leaves, named, scratch

pytestmark = pytest.mark.long

#: One field in so many.
EVERY = 29


def test_an_untouched_archive_is_proved_and_one_changed_field_is_named() -> None:
    with scratch() as archive:
        whole = audit_archive(archive, now(), reprove=True)
        assert whole.ok
        assert whole.reproof is not None
        assert (whole.reproof.stale, whole.reproof.not_derivable) == ((), ())
        everything = list(leaves(archive))
        assert len(everything) > 1000
        sample = [leaf for at, leaf in enumerate(everything) if at % EVERY == 0]
        unnoticed = [str(leaf) for leaf in sample if named(archive, leaf) is None and excuse(archive, leaf) is None]
        assert unnoticed == []
        assert audit_archive(archive, now()).ok   # all was put back
        excused = [leaf for leaf in everything if excuse(archive, leaf) is not None]
        assert len(excused) < 0.02 * len(everything)
        assert {excuse(archive, leaf) for leaf in excused} <= set(EXCUSED)


@pytest.mark.parametrize(
    "value", [True, 3, 0.5, None, "eprom", "single", "2026-03-02T10:00:00Z", "DEADBEEF", "5.0", "TG85 2.1 EVEN"]
)
def test_a_value_is_changed_to_another(value: object) -> None:
    assert changed(value) != value
    assert str(Leaf("u4", "carrier.json", None, ("label",), value)).startswith("u4 carrier.json: label")
