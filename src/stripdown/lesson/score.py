"""The log score of a guess: what it is worth in bits over knowing nothing."""

import math
from dataclasses import dataclass

from stripdown import vocabulary
from stripdown.lesson.model import NOT_DECIDED

LEAST, MOST = 0.05, 0.99
"""Confidences that can be given: nobody is allowed to be certain, for one certain miss would cost everything."""


@dataclass(frozen=True, slots=True)
class Guess:
    """What a class committed to at a station: a candidate and how sure it was [0 to 1]."""

    candidate: str
    confidence: float


@dataclass(frozen=True, slots=True)
class Scored:
    """A guess after a station and what it earned [bit]."""

    station: str
    guess: Guess
    points: float


def candidates() -> tuple[str, ...]:
    """What a class can name: every mechanism in the order of the vocabulary, and `not_decided`."""
    return (*vocabulary.mechanisms(), NOT_DECIDED)


def points(confidence: float, *, right: bool) -> float:
    """log2 of what the guess gave to the answer, over an even share [bit].

    A wrong guess leaves the rest of its confidence evenly on all the others. Raises ValueError outside 0.05 to 0.99.
    """
    if not LEAST <= confidence <= MOST:
        raise ValueError(f"confidence {confidence} is not between {LEAST} and {MOST}")
    n = len(candidates())
    return math.log2(n * (confidence if right else (1.0 - confidence) / (n - 1)))
