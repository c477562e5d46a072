"""A step: one transformation with its parameters, as it is recorded and done again."""

from __future__ import annotations

from collections.abc import Sequence

from imagekeeper.errors import UsageError


class Step:
    """What every step can do; a class of its own, with its parameters as fields, does each kind.

    The fields are the step's record in JSON, `{"step": "split-lane", "lane": 0, "lanes": 2, "width_bytes": 1}`. Records
    are kept in archives: a name once given stays.
    """

    @property
    def keeps_start(self) -> bool:
        """Whether the result begins at the address at which the image began."""
        return True

    @property
    def needs(self) -> tuple[str, ...]:
        """The SHA-256 of the further images that the step takes, in order."""
        return ()

    def apply(self, data: bytes, others: Sequence[bytes] = ()) -> bytes:
        """Do it.

        Args:
            data: The image.
            others: The images that it `needs`.

        Raises:
            UsageError: The image's size does not fit, or data would be lost.
        """
        return self._do(data, others)

    def carry(self, marks: bytes, others: Sequence[bytes] = ()) -> bytes:
        """Take marks of the bytes, such as doubts, to where the bytes go; what the step adds is marked 0.

        Args:
            marks: One a byte of the image.
            others: Those of the images that it `needs`.
        """
        return self._carry(marks, others)

    def undo(self, before_bytes: int) -> Step | None:
        """Give the step that leads back, or None where the result alone does not suffice.

        Args:
            before_bytes: The size of the image before. [byte]
        """
        return self._undo(before_bytes)

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        raise NotImplementedError

    def _carry(self, marks: bytes, others: Sequence[bytes]) -> bytes:
        return self._do(marks, others)

    def _undo(self, before_bytes: int) -> Step | None:
        return None


def within(name: str, value: int, least: int, most: int) -> None:
    """Refuse a parameter beyond its range.

    Raises:
        UsageError: `usage`.
    """
    if not least <= value <= most:
        raise UsageError("usage/number-of-step", name=name, value=value, least=least, most=most)


def one_of(name: str, value: int, allowed: tuple[int, ...]) -> None:
    """Refuse a parameter that is none of a few.

    Raises:
        UsageError: `usage`.
    """
    if value not in allowed:
        choice = " or ".join(map(str, allowed))
        raise UsageError("usage/choice-of-step", name=name, value=value, choice=choice)


def fill_byte(value: int) -> None:
    """Refuse a fill that is no byte.

    Raises:
        UsageError: `usage`.
    """
    within("the fill byte", value, 0, 255)
