"""Plays, gaps and torques as found: what a dial gauge, a feeler or a wrench says."""

from collections.abc import Sequence
from typing import Literal

from stripdown.bench.electrical import mean_of
from stripdown.bench.number import Number

_NEW_PER_MM = {"shells": 0.75e-3, "aluminium": 2.0e-3}


def new_clearance(journal: Number, metal: Literal["shells", "aluminium"]) -> Number:
    """Largest clearance of a new bearing where no sheet gives it.

    journal [mm], diameter; metal: shells, or aluminium running straight on the crank. Result [mm].
    Source: shells 0.75 µm per mm: Reciprocating Compressors: Operation and Maintenance, chapter 4; aluminium 1 to 2:
    common practice.

    >>> new_clearance(80.0, "shells")
    0.06
    """
    return journal * _NEW_PER_MM[metal]


def pin_drop(drop: Number, rod_play: Number) -> Number:
    """Drop of the piston on its wrist pin alone: what was felt at the crown less the play of the big end.

    drop, rod_play [mm], of one cylinder. Result [mm]. Source: common practice.

    >>> round(pin_drop(0.09, 0.04), 3)
    0.05
    """
    return drop - rod_play


def gap_shares(gaps: Sequence[Number]) -> list[Number]:
    """Each air gap as a share of the mean of all; the smallest says how far the rotor has sunk.

    gaps [mm], of one moment, two or more, mean not 0. Result [1]. Source: common practice.

    >>> [round(s, 2) for s in gap_shares([0.4, 0.2, 0.3, 0.3])]
    [1.33, 0.67, 1.0, 1.0]
    """
    mean = mean_of(gaps)
    return [gap / mean for gap in gaps]
