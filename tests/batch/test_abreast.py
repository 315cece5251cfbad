"""Lots done by processes side by side."""

import os
import signal
from collections.abc import Iterator, Sequence

import pytest

from stripdown.batch.abreast import AHEAD, in_order
from stripdown.batch.error import BatchError


def doubled(lot: Sequence[int]) -> list[int]:
    return [2 * x for x in lot]


def ended(lot: Sequence[int]) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def test_answers_stand_in_the_order_of_the_lots_and_few_lots_are_held() -> None:
    taken: list[int] = []

    def lots() -> Iterator[list[int]]:
        for i in range(40):
            taken.append(i)
            yield [i]

    answers = in_order(doubled, lots(), 2)
    assert next(answers) == [0]
    assert len(taken) <= 2 * AHEAD + 2
    assert [a for [a] in answers] == [2 * i for i in range(1, 40)]


@pytest.mark.skipif(os.name != "posix", reason="ends a process by a signal")
def test_a_process_that_was_ended_is_told_of() -> None:
    with pytest.raises(BatchError, match="ended from outside"):
        list(in_order(ended, [[1]], 2))
