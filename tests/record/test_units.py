"""Units against NIST SP 811 (2008), Appendix B.8, and against an independent library."""

import warnings

import pint
import pytest

from stripdown.record import units

# NIST SP 811 (2008), Appendix B.8, as printed there (inHg: "inch of mercury, conventional").
SP811 = [
    ("pressure", "psi", 6.894757),
    ("pressure", "inHg", 3.386389),
    ("pressure", "mmHg", 0.1333224),
    ("pressure", "bar", 100.0),
    ("pressure", "mbar", 0.1),
    ("pressure", "kgf/cm2", 98.0665),
    ("torque", "lbf·ft", 1.355818),
    ("torque", "lbf·in", 0.1129848),
    ("torque", "kgf·m", 9.80665),
    ("length", "thou", 0.0254),
    ("length", "in", 25.4),
    ("length", "um", 0.001),
    ("volume", "gal", 3.785412),
    ("volume", "quart", 0.9463529),
    ("volume", "pint", 0.4731765),
    ("volume", "fl oz", 0.02957353),
    ("temperature difference", "degF", 0.5555556),
]


@pytest.mark.parametrize(("family", "spelling", "factor"), SP811)
def test_factor_is_the_published_one(family: str, spelling: str, factor: float) -> None:
    scale = units.lookup(spelling, family)
    assert scale is not None
    assert scale.factor == pytest.approx(factor, rel=1e-6)


@pytest.mark.parametrize(
    ("value", "spelling", "celsius"),
    [(212, "degF", 100.0), (32, "°F", 0.0), (-40, "F", -40.0), (300, "K", 26.85), (24, "℃", 24.0)],
)
def test_temperature_scale_has_its_offset(value: float, spelling: str, celsius: float) -> None:
    scale = units.lookup(spelling, "temperature")
    assert scale is not None
    assert units.to_base(value, scale) == pytest.approx(celsius, abs=1e-9)


PINT_NAMES = {
    ("resistance", "ohm"): "ohm",
    ("resistance", "kohm"): "kiloohm",
    ("resistance", "Mohm"): "megaohm",
    ("resistance", "mohm"): "milliohm",
    ("resistance", "Gohm"): "gigaohm",
    ("voltage", "V"): "volt",
    ("voltage", "mV"): "millivolt",
    ("voltage", "kV"): "kilovolt",
    ("current", "A"): "ampere",
    ("current", "mA"): "milliampere",
    ("pressure", "psi"): "psi",
    ("pressure", "psig"): "psi",
    ("pressure", "psia"): "psi",
    ("pressure", "bar"): "bar",
    ("pressure", "barg"): "bar",
    ("pressure", "bara"): "bar",
    ("pressure", "kPa"): "kilopascal",
    ("pressure", "kPag"): "kilopascal",
    ("pressure", "kPaa"): "kilopascal",
    ("pressure", "MPa"): "megapascal",
    ("pressure", "inHg"): "inch_Hg",
    ("pressure", "kgf/cm2"): "kilogram_force / centimeter ** 2",
    ("pressure", "mbar"): "millibar",
    ("pressure", "Pa"): "pascal",
    ("pressure", "micron"): "millitorr",
    ("pressure", "mmHg"): "millimeter_Hg",
    ("temperature", "degC"): "degree_Celsius",
    ("temperature", "degF"): "degree_Fahrenheit",
    ("temperature", "K"): "kelvin",
    ("temperature difference", "K"): "kelvin",
    ("temperature difference", "degC"): "delta_degree_Celsius",
    ("temperature difference", "degF"): "delta_degree_Fahrenheit",
    ("acid number", "mg KOH/g"): "milligram / gram",
    ("moisture", "ppm"): "ppm",
    ("torque", "N·m"): "newton * meter",
    ("torque", "lbf·ft"): "force_pound * foot",
    ("torque", "lbf·in"): "force_pound * inch",
    ("torque", "kgf·m"): "kilogram_force * meter",
    ("length", "mm"): "millimeter",
    ("length", "um"): "micrometer",
    ("length", "thou"): "thou",
    ("length", "in"): "inch",
    ("length", "cm"): "centimeter",
    ("pressure rise", "kPa/min"): "kilopascal / minute",
    ("pressure rise", "psi/min"): "psi / minute",
    ("pressure rise", "bar/min"): "bar / minute",
    ("pressure rise", "mbar/min"): "millibar / minute",
    ("pressure rise", "inHg/min"): "inch_Hg / minute",
    ("volume", "l"): "liter",
    ("volume", "ml"): "milliliter",
    ("volume", "pint"): "pint",
    ("volume", "quart"): "quart",
    ("volume", "gal"): "gallon",
    ("volume", "fl oz"): "fluid_ounce",
    ("frequency of starts", "1/h"): "1 / hour",
    ("frequency of starts", "1/day"): "1 / day",
}
PINT_BASE = {"acid number": "milligram / gram", "moisture": "ppm", "temperature difference": "delta_degree_Celsius"}


@pytest.fixture(scope="module")
def oracle() -> pint.UnitRegistry:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pint.UnitRegistry()


@pytest.mark.parametrize(("family", "name"), PINT_NAMES)
def test_conversion_agrees_with_an_independent_library(oracle: pint.UnitRegistry, family: str, name: str) -> None:
    scale = units.lookup(name, family)
    assert scale is not None
    base = PINT_BASE.get(family) or PINT_NAMES[family, units.BASE[family]]
    unit = PINT_NAMES[family, name]
    if family == "temperature difference" and name == "K":
        unit = "delta_degree_Celsius"  # a kelvin of difference, which the library keeps apart from a temperature
    for value in (0.0, 1.0, 37.5, 1e4):
        expected = oracle.Quantity(value, unit).to(base).magnitude
        assert units.to_base(value, scale) == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_every_unit_of_the_table_is_held_against_the_library() -> None:
    assert {(family, scale.name) for family, _, scale in units.spellings()} == set(PINT_NAMES)


@pytest.mark.parametrize(
    ("family", "name", "spellings"),
    [
        ("resistance", "Mohm", ["Mohm", "MΩ", "MΩ", "M ohm", "megohm", "MEGOHM", "M-ohm", "Mohms", "MOhm"]),
        ("resistance", "ohm", ["ohm", "Ω", "Ω", "Ohms", "OHM"]),
        ("resistance", "kohm", ["kΩ", "kOhm", "KOHM", "k ohm"]),
        ("resistance", "mohm", ["mΩ", "mohm", "mOhm", "milliohm"]),
        ("torque", "N·m", ["N·m", "Nm", "N m", "N.m", "N-m", "N⋅m", "nm", "N*m"]),
        ("torque", "lbf·ft", ["lbf·ft", "ft-lb", "ft·lbf", "ft lbs", "LBF-FT", "lb ft"]),
        ("temperature", "degC", ["degC", "°C", "C", "deg C", "℃", "Celsius"]),
        ("temperature", "degF", ["degF", "°F", "F", "℉"]),
        ("length", "um", ["um", "µm", "μm", "micron", "Micron"]),
        ("length", "thou", ["thou", "mil", "mils"]),
        ("pressure", "psig", ["psig", "PSIG", "psi g", "psi(g)"]),
        ("pressure", "inHg", ["inHg", "in Hg", "in. Hg", "INHG", "inches Hg"]),
        ("pressure", "kPa", ["kPa", "KPA", "kpa"]),
        ("pressure", "micron", ["micron", "microns", "µmHg", "mTorr"]),
        ("pressure", "kgf/cm2", ["kgf/cm²", "kg/cm2"]),
        ("volume", "quart", ["quart", "qt", "US quart"]),
        ("acid number", "mg KOH/g", ["mg KOH/g", "mgKOH/g"]),
        ("frequency of starts", "1/h", ["1/h", "/h", "per hour", "starts/h"]),
    ],
)
def test_spellings_people_use_mean_one_unit(family: str, name: str, spellings: list[str]) -> None:
    assert {s: getattr(units.lookup(s, family), "name", None) for s in spellings} == dict.fromkeys(spellings, name)


@pytest.mark.parametrize(
    ("family", "spelling"),
    [("resistance", "MOHM"), ("resistance", "Mω"), ("pressure", "mpa"), ("pressure", "mPa"), ("voltage", "MV")],
)
def test_capitals_that_count_are_never_guessed(family: str, spelling: str) -> None:
    assert units.lookup(spelling, family) is None


def test_no_spelling_of_another_family_is_taken() -> None:
    assert units.lookup("kPa", "moisture") is None
    assert units.families("kPa") == ("pressure",)
    assert units.families("furlong") == ()
