"""What physics allows never clashes: machines are made up, read with instruments of the class, and held to every rule.

Made from the laws themselves: a network of resistances, phasors that sum to zero, circles one in the other, insulation
as one leak behind the winding, refrigerant by the tables of the bench.
"""

import cmath
import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stripdown.bench.fluid import fluid_of
from stripdown.bench.refrigerant import bubble_temperature, dew_pressure, discharge_temperature
from tests.limits.made import clashes, insulation, reading, winding

CHECKED = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
PAIRS, HALF = ("U-V", "V-W", "W-U"), ("1U-1V", "1V-1W", "1W-1U")
PLACES = ("U-frame", "V-frame", "W-frame")

ohms = st.one_of(st.just(0.0), st.floats(0.05, 20.0))
noise = st.floats(-1.0, 1.0)


def read(true: float, relative: float, own: float, share: float) -> float:
    """What an instrument of this accuracy may show."""
    return max(0.0, true * (1.0 + relative * share) + own * share)


@CHECKED
@given(st.tuples(ohms, ohms, ohms), st.tuples(noise, noise, noise), st.sampled_from(("star", "delta", "part_winding")))
def test_any_three_resistances_of_one_network(phases, shares, motor):
    """Any network between three terminals reads like a star (and a delta is turned into one)."""
    u, v, w = phases
    pairs = HALF if motor == "part_winding" else PAIRS
    values = [read(r, 0.005, 0.02, s) for r, s in zip((u + v, v + w, w + u), shares, strict=True)]
    assert not clashes(*(winding(p, r) for p, r in zip(pairs, values, strict=True)), motor=motor)


@CHECKED
@given(st.tuples(*[st.one_of(st.just(math.inf), st.floats(0.1, 20.0))] * 3))
def test_any_three_coils_of_a_delta_of_which_some_may_be_open(coils):
    """Each pair: its coil beside the other two in series."""

    def beside(coil: float, others: float) -> float | str:
        if math.isinf(coil) or math.isinf(others):
            return "open" if math.isinf(min(coil, others)) else min(coil, others)
        return coil * others / (coil + others)

    values = [beside(coils[i], coils[i - 1] + coils[i - 2]) for i in range(3)]
    assert values.count("open") != 1
    assert not clashes(*(winding(p, r) for p, r in zip(PAIRS, values, strict=True)), motor="delta")


@CHECKED
@given(st.tuples(*[st.floats(0.0, 60.0)] * 2), st.floats(0.0, 2 * math.pi), st.tuples(noise, noise, noise))
def test_any_three_currents_that_sum_to_zero(sizes, angle, shares):
    first, second = cmath.rect(sizes[0], 0.0), cmath.rect(sizes[1], angle)
    amperes = [read(abs(i), 0.02, 0.2, s) for i, s in zip((first, second, -first - second), shares, strict=True)]
    entries = [reading("running_current", a, "A", between=f"L{n}", site=True) for n, a in enumerate(amperes, 1)]
    assert not clashes(*entries, insulation(600), motor="star")


@CHECKED
@given(st.floats(0.2, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 2 * math.pi), st.tuples(*[noise] * 4))
def test_any_rotor_that_stands_off_the_middle(room, away, angle, shares):
    """A gap is bore radius 60 mm less rotor radius, less how far the rotor has moved that way; e²/2R is left out: at
    most 8 um."""
    x, y = room * away * math.sin(angle), room * away * math.cos(angle)
    true = {"top": room + y, "bottom": room - y, "left": room - x, "right": room + x}
    gaps = [
        reading("rotor_air_gap", read(g, 0.0, 0.02, s), "mm", between=side)
        for (side, g), s in zip(true.items(), shares, strict=True)
    ]
    assert not clashes(*gaps)


@CHECKED
@given(st.floats(0.0, 2000.0), st.tuples(*[st.floats(0.0, 5.0)] * 3), st.tuples(*[st.floats(-0.1, 0.1)] * 4))
def test_any_leak_behind_a_whole_winding(leak, ways, shares):
    """Each phase reads its way through the copper and the leak; all together less, but the leak."""
    reads = [(leak + w * 1e-6) * (1.0 + s) for w, s in zip(ways, shares, strict=False)]
    every = insulation(leak * (1.0 + shares[3]))
    pairs = [winding(p, 0.8) for p in PAIRS]
    phases = [insulation(r, p) for p, r in zip(PLACES, reads, strict=True)]
    assert not clashes(every, *phases, *pairs, motor="star")


R134A = fluid_of("R134a")


@CHECKED
@given(
    st.floats(-30.0, 10.0),
    st.floats(25.0, 60.0),
    st.floats(0.0, 30.0),
    st.floats(0.5, 0.9),
    st.sampled_from((("air", 8.0), ("refrigerant", 30.0))),
    noise,
)
def test_any_running_machine(evaporating, condensing, superheat, efficiency, cooled, share):
    """Gas is drawn in at its boiling point or above and leaves as the losses of the machine and its motor make it; the
    air is colder than the condenser. Its valves are sound."""
    low, high = float(dew_pressure(R134A, evaporating)), float(dew_pressure(R134A, condensing))
    drawn, (cooling, heat) = evaporating + superheat, cooled
    left = float(discharge_temperature(R134A, low, drawn, high, efficiency)) + heat
    entries = [
        reading("suction_pressure", low, "kPa", absolute=True, site=True),
        reading("discharge_pressure", high, "kPa", absolute=True, site=True),
        reading("suction_gas_temperature", drawn + 2.5 * share, "degC", site=True),
        reading("discharge_line_temperature", left + 3.5 * share, "degC", site=True),
        reading("ambient_temperature", condensing - 2.0, "degC", site=True),
        reading("net_oil_pressure", 200, "kPa", site=True),
    ]
    sound = ("suction_reed.broken", "discharge_valve.broken", "head_gasket.blown", "relief_valve.leaking")
    seen = ("condenser.fouled heavy", *(f"{s} none" for s in sound))
    assert not clashes(*entries, refrigerant="R134a", cooling=cooling, seen=seen)


@CHECKED
@given(st.floats(25.0, 60.0), st.floats(-30.0, 10.0), st.floats(0.0, 90.0))
def test_any_gas_hotter_than_its_boiling_point(condensing, evaporating, above):
    """However it came to be so: only told where it is more than losses explain."""
    low, high = float(dew_pressure(R134A, evaporating)), float(dew_pressure(R134A, condensing))
    left = max(float(bubble_temperature(R134A, high)), evaporating) + above
    entries = [
        reading("suction_pressure", low, "kPa", absolute=True, site=True),
        reading("discharge_pressure", high, "kPa", absolute=True, site=True),
        reading("suction_gas_temperature", evaporating, "degC", site=True),
        reading("discharge_line_temperature", left, "degC", site=True),
    ]
    assert all(c.rate is None for c in clashes(*entries, refrigerant="R134a"))


EXTENTS = ((0.155, "heavy"), (0.105, "slight"), (0.0, "none"))
"""Play [mm] from which a mechanic calls a bearing so: the limits of the class."""


def extent_of(play: float) -> str:
    return next(extent for least, extent in EXTENTS if play >= least)


@CHECKED
@given(
    st.tuples(*[st.floats(0.02, 0.6)] * 4),
    st.tuples(*[noise] * 4),
    st.sampled_from(("K4-150", "no sheet for this")),
    st.sampled_from(("uniform", "random", "progressive")),
)
def test_any_bearings_called_what_they_measure(true, shares, model, pattern):
    """Rods worn alike have the first one's play, rods worn more and more the larger ones last; a mechanic names the
    cylinders of what is heavy."""
    plays = [true[0]] * 4 if pattern == "uniform" else sorted(true) if pattern == "progressive" else list(true)
    rods = [
        reading("rod_play", p + 0.005 * s, "mm", cylinder=n)
        for n, (p, s) in enumerate(zip(plays, shares, strict=True), 1)
    ]
    bearings = [reading("main_bearing_play", true[1] + 0.005 * shares[1], "mm")]
    heavy = [n for n, p in enumerate(plays, 1) if extent_of(p) == "heavy"]
    worst = {"part": "rod_bearings", "condition": f"worn_{pattern}", "extent": extent_of(max(plays))}
    named = worst | ({"cylinder": heavy} if heavy and pattern == "random" else {})
    seen = (f"main_bearing.worn {extent_of(true[1])}",)
    assert not clashes(*rods, *bearings, seen=seen, observations=[named], model=model, cylinders=4)


@CHECKED
@given(st.tuples(*[st.floats(0.0, 0.4)] * 3), st.tuples(*[st.floats(0.02, 0.1)] * 3), st.tuples(*[noise] * 3))
def test_any_pins_called_what_is_felt_at_the_crown(pins, big_ends, shares):
    """What is felt is the pin and the big end together: heavy from 80 um on."""
    felt = [p + b for p, b in zip(pins, big_ends, strict=True)]
    read = [
        reading("wrist_pin_drop", max(0.0, x + 0.01 * s), "mm", cylinder=n)
        for n, (x, s) in enumerate(zip(felt, shares, strict=True), 1)
    ]
    read += [reading("rod_play", b, "mm", cylinder=n) for n, b in enumerate(big_ends, 1)]
    heavy = [n for n, x in enumerate(felt, 1) if x > 0.08]
    said = [{"part": "wrist_pin", "condition": "drops", "extent": "heavy", "cylinder": heavy}] if heavy else []
    assert not clashes(*read, observations=said, cylinders=3)
