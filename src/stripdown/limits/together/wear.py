"""Gaps and plays that cannot all be true of one rotor in one bore."""

from collections.abc import Iterator

from stripdown.limits.together.model import Facts, Found, found
from stripdown.record.model import Reading

_OUT_OF_ROUND = 0.1
"""What rotor and bore may be out of round, together [mm] (estimate)."""
_TIGHT = 0.1
"""Play [mm] of a bearing that was not read and is not found worn: the largest new clearance, rounded up."""
_SEATING = 0.05
"""What the play of a bearing may be over-read by how the bar was set [mm] (estimate)."""


def gaps(f: Facts) -> Iterator[Found]:
    """Top and bottom against left and right: both are bore less rotor, wherever the rotor stands.

    A rub leaves neither of them round, and a shaft that moves in its bearing between two sides adds its play.
    """
    if f.there("rotor.loose", "rotor.rubbed", "stator.rubbed", "crankshaft.broken"):
        return
    plays = [float(r.base or 0.0) for r in f.readings("main_bearing_play")]
    if not plays and f.there("main_bearing.worn"):
        return
    for sides in _moments(f):
        if set(sides) != {"top", "bottom", "left", "right"} or len({len(r) for r in sides.values()}) > 1:
            continue
        entries = [r for side in ("top", "bottom", "left", "right") for r in sides[side]]
        upright, across = _sum(sides, "top", "bottom"), _sum(sides, "left", "right")
        if abs(upright - across) > f.margin(*entries) + _OUT_OF_ROUND + max(plays, default=_TIGHT):
            yield found(f"top and bottom come to {upright:.2f} mm, left and right to {across:.2f} mm", *entries)


def _moments(f: Facts) -> list[dict[str, list[Reading]]]:
    """For each moment the readings of each side."""
    out: dict[object, dict[str, list[Reading]]] = {}
    for r in f.readings("rotor_air_gap"):
        out.setdefault(f.ctx.moments[r.entry], {}).setdefault(str(r.between), []).append(r)
    return list(out.values())


def _sum(sides: dict[str, list[Reading]], *which: str) -> float:
    """Mean gaps of opposite sides, added up [mm]."""
    return sum(sum(float(r.base or 0.0) for r in sides[s]) / len(sides[s]) for s in which)


def play(f: Facts) -> Iterator[Found]:
    """A motor-end bearing that lets the shaft move further than the overhung rotor can, and no rub on rotor or
    stator."""
    sound = [*f.sound("rotor.rubbed"), *f.sound("stator.rubbed")]
    if not sound or f.there("rotor.rubbed", "stator.rubbed", "crankshaft.broken"):
        return
    for sides in _moments(f):
        if not {"top", "bottom"} <= set(sides):
            continue
        entries = [*sides["top"], *sides["bottom"]]
        room = _sum(sides, "top", "bottom")
        for r in f.readings("main_bearing_play"):
            if float(r.base or 0.0) > room + f.margin(r, *entries) + _SEATING:
                play_of = f"the shaft has {r.base:.2f} mm of play, the rotor only {room:.2f} mm of room"
                yield found(f"{play_of}, and nothing has rubbed", r, *entries, *sound)
