"""Our own errors in tests: which code, and what a person reads."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TypeVar

import pytest

from imagekeeper.errors import ImagekeeperError

E = TypeVar("E", bound=ImagekeeperError)


@contextmanager
def refuses(kind: type[E], code: str, says: str) -> Iterator[pytest.ExceptionInfo[E]]:
    """Expect an error of a kind with this code, in whose text these words stand."""
    with pytest.raises(kind) as caught:
        yield caught
    assert caught.value.code == code
    assert says in str(caught.value)
