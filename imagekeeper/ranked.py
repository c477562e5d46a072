"""Ranked answers with evidence: the one shape for every question that has several possible answers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True)
class Evidence:
    """One reason for or against an answer.

    Attributes:
        says: The observation in words, with its numbers.
        weight: Above 0 speaks for the answer, below 0 against it.
    """

    says: str
    weight: float


@dataclass(frozen=True)
class Candidate(Generic[T]):
    """A possible answer.

    Attributes:
        answer: The answer itself.
        score: From 0 (excluded) to 1 (certain), comparable only within one ranking.
        evidence: The reasons, strongest first.
    """

    answer: T
    score: float
    evidence: tuple[Evidence, ...] = ()


def rank(candidates: Iterable[Candidate[T]]) -> tuple[Candidate[T], ...]:
    """Sort candidates best first; equal scores keep the order in which they came.

    Example:
        >>> [c.answer for c in rank([Candidate("a", 0.2), Candidate("b", 0.9), Candidate("c", 0.2)])]
        ['b', 'a', 'c']
    """
    return tuple(sorted(candidates, key=lambda candidate: -candidate.score))
