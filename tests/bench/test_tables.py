"""The refrigerant tables against their maker: 0.1 K and 0.2 % inside their range, on points that the fit did not
see."""

import importlib.util
import math
from pathlib import Path

import numpy as np
import pytest

from stripdown.bench import refrigerant as rf
from stripdown.bench.fluid import Fluid, OutsideTableError, UnsupportedRefrigerantError, fluid_of, names

TOOLS = Path(__file__).parents[2] / "tools"
WANTED = (
    "R134a R22 R290 R744 R717 R32 R600a R1234yf R1234ze(E) R404A R407A R407C R407F R410A R448A R449A R450A R452A "
    "R454B R454C R455A R507A R513A"
)


def state_of(fluid: Fluid):  # type: ignore[no-untyped-def]  # CoolProp has no types
    cp = pytest.importorskip("CoolProp.CoolProp", exc_type=ImportError)
    return cp, cp.AbstractState("HEOS", fluid.made_with.split(", ")[1])


def test_the_wanted_refrigerants_are_there():
    assert set(WANTED.split(" ")) <= set(names())


@pytest.mark.parametrize("name", names())
def test_saturation_against_coolprop(name):
    fluid = fluid_of(name)
    cp, state = state_of(fluid)
    seen = 0
    for quality, temperature_at, pressure_at in (
        (0.0, rf.bubble_temperature, rf.bubble_pressure),
        (1.0, rf.dew_temperature, rf.dew_pressure),
    ):
        for t in (fluid.low, *np.arange(fluid.low + 0.4, fluid.high, 7.3), fluid.high):
            try:
                state.update(cp.QT_INPUTS, quality, t + 273.15)
            except ValueError:  # a gap of the solver
                continue
            pressure = state.p() / 1e3
            assert pressure_at(fluid, float(t)) == pytest.approx(pressure, rel=0.002)
            assert temperature_at(fluid, pressure) == pytest.approx(t, abs=0.1)
            seen += 1
    assert seen > 15


@pytest.mark.parametrize("name", names())
def test_gas_against_coolprop(name):
    """Density within 0.2 %; enthalpy and entropy within what 0.1 K changes them."""
    fluid = fluid_of(name)
    cp, state = state_of(fluid)
    state.specify_phase(cp.iphase_gas)
    middle, half = fluid.gas.log_p
    for share in (-0.93, -0.5, 0.1, 0.6, 0.97):
        pressure = math.exp(middle + half * share)
        dew = rf.dew_temperature(fluid, pressure)
        for superheat in (0.5, 7.0, 31.0, 77.0, 148.0):
            t = dew + superheat
            state.update(cp.PT_INPUTS, pressure * 1e3, t + 273.15)
            per_kelvin = state.cpmass() / 1e3
            assert rf.gas_density(fluid, pressure, t) == pytest.approx(state.rhomass(), rel=0.002)
            assert rf.enthalpy(fluid, pressure, t) == pytest.approx(state.hmass() / 1e3, abs=0.1 * per_kelvin)
            assert rf.entropy(fluid, pressure, t) == pytest.approx(
                state.smass() / 1e3, abs=0.1 * per_kelvin / (t + 273.15)
            )


@pytest.mark.parametrize("name", names())
def test_discharge_temperature_against_coolprop(name):
    """The whole path of h2 = h1 + (h2s - h1)/0.65, worked by CoolProp itself, within 0.1 K."""
    fluid = fluid_of(name)
    cp, state = state_of(fluid)
    state.specify_phase(cp.iphase_gas)
    evaporating, condensing = (-30.0, 10.0) if name == "R744" else (-15.0, 45.0)
    low, high = rf.dew_pressure(fluid, evaporating), rf.dew_pressure(fluid, condensing)
    state.update(cp.PT_INPUTS, low * 1e3, evaporating + 12 + 273.15)
    h1, s1 = state.hmass(), state.smass()

    def solve(wanted: float, what: str) -> None:
        """Bisection on temperature at the high pressure; leaves the state there."""
        a, b = condensing + 273.15, condensing + 273.15 + 300
        for _ in range(60):
            middle = (a + b) / 2
            state.update(cp.PT_INPUTS, high * 1e3, middle)
            a, b = (middle, b) if getattr(state, what)() < wanted else (a, middle)

    solve(s1, "smass")
    solve(h1 + (state.hmass() - h1) / 0.65, "hmass")
    found = rf.discharge_temperature(fluid, low, evaporating + 12, high, 0.65)
    assert found == pytest.approx(state.T() - 273.15, abs=0.1)


@pytest.mark.parametrize("written", ["R449A", "r449a", "R-449A", "R 449A", "449A", "r-449a "])
def test_names_as_people_write_them(written):
    assert fluid_of(written).name == "R449A"


@pytest.mark.parametrize(("written", "name"), [("CO2", "R744"), ("ammonia", "R717"), ("R1234ze", "R1234ze(E)")])
def test_other_names(written, name):
    assert fluid_of(written).name == name


@pytest.mark.parametrize("written", ["R999", "", "../../R1", "R22.json", "R" * 5000])
def test_unsupported_names_say_what_there_is(written):
    with pytest.raises(UnsupportedRefrigerantError, match=r"no table for refrigerant .* there are .*R449A"):
        fluid_of(written)


@pytest.mark.parametrize("pressure", [0.0, -5.0, 1e9, math.nan])
def test_pressures_outside_the_table(pressure):
    with pytest.raises(OutsideTableError, match="kPa absolute"):
        rf.dew_temperature(fluid_of("R134a"), pressure)


def test_arrays_give_what_numbers_give():
    fluid = fluid_of("R449A")
    pressures, t = np.array([150.0, 244.0, 500.0]), np.array([0.0, 5.0, 20.0])
    high = np.array([1200.0, 1650.0, 1800.0])
    alone = [
        rf.discharge_temperature(fluid, float(p), float(x), float(h), 0.7)
        for p, x, h in zip(pressures, t, high, strict=True)
    ]
    assert rf.discharge_temperature(fluid, pressures, t, high, 0.7) == pytest.approx(alone, rel=1e-12)
    assert rf.superheat(fluid, pressures, t) == pytest.approx(
        [rf.superheat(fluid, float(p), float(x)) for p, x in zip(pressures, t, strict=True)]
    )


def test_wet_suction_gas_has_no_gas_properties():
    with pytest.raises(OutsideTableError, match="superheat"):
        rf.enthalpy(fluid_of("R134a"), 200.60, -15.0)


def test_a_worse_efficiency_means_hotter_gas():
    fluid = fluid_of("R134a")
    found = [rf.discharge_temperature(fluid, 200.60, 0.0, 1016.59, e) for e in (1.0, 0.8, 0.6, 0.5)]
    assert found == sorted(found)
    assert rf.discharge_band(fluid, 200.60, 0.0, 1016.59) == pytest.approx(
        [rf.discharge_temperature(fluid, 200.60, 0.0, 1016.59, e) for e in (0.75, 0.55)]
    )


@pytest.mark.parametrize("name", ["R134a", "R449A"])
def test_the_recipe_makes_the_shipped_table(name):
    """tools/make_refrigerant_tables.py, run again: same ranges, same pressures and enthalpies within the stated
    error."""
    pytest.importorskip("CoolProp.CoolProp", exc_type=ImportError)
    spec = importlib.util.spec_from_file_location("recipe", TOOLS / "make_refrigerant_tables.py")
    assert spec is not None
    assert spec.loader is not None
    recipe = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(recipe)
    made, shipped = recipe.make(name), fluid_of(name)
    assert made["range"] == [shipped.low, shipped.high]
    for t in (-40.0, 0.0, 45.0):
        pressure = math.exp(float(recipe.value(made["dew_pressure"], 1 / (t + 273.15))))
        assert pressure == pytest.approx(rf.dew_pressure(shipped, t), rel=0.002)
    assert np.array(made["gas"]["h"])[0, 0] == pytest.approx(shipped.gas.h[0][0], rel=0.002)
