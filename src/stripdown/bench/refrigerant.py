"""Pressures and temperatures of the refrigerant: saturation, superheat, ratio, and the discharge temperature to expect.

Pressures are absolute unless said; dew line for superheat, bubble line for subcooling. Expected discharge
temperatures are an estimate: the efficiency of a machine in service is not known, only a band that sound ones keep.
"""

import math
from collections.abc import Sequence

import numpy as np

from stripdown.bench.fluid import Fluid, Line, OutsideTableError, everywhere, horner, isobar, slope
from stripdown.bench.number import Number

EFFICIENCY = (0.55, 0.75)
"""Isentropic efficiency, suction port to discharge line, that sound machines keep (estimate)."""

_KELVIN = 273.15


def atmosphere(altitude: Number) -> Number:
    """Air pressure at an altitude.

    altitude [m], -500..9000. Result [kPa]. Source: ISO 2533, standard atmosphere (from memory).

    >>> atmosphere(0.0)
    101.325
    """
    return 101.325 * (1.0 - 2.25577e-5 * altitude) ** 5.25588


def compression_ratio(discharge: Number, suction: Number) -> Number:
    """Discharge over suction, both absolute: gauge pressures would give nonsense.

    discharge, suction [kPa], absolute, above 0. Result [1]. Source: common practice.

    >>> compression_ratio(1000.0, 200.0)
    5.0
    """
    return discharge / suction


def dew_temperature(fluid: Fluid, pressure: Number) -> Number:
    """Temperature at which the last drop boils: the reference of superheat.

    pressure [kPa], absolute, inside the table. Result [degC]. Raises OutsideTableError. Source: table made by CoolProp.

    >>> from stripdown.bench.fluid import fluid_of
    >>> round(dew_temperature(fluid_of("R134a"), 665.38), 2)
    25.0
    """
    return _saturated(fluid, fluid.dew_temperature, pressure)


def bubble_temperature(fluid: Fluid, pressure: Number) -> Number:
    """Temperature at which the first bubble forms: the reference of subcooling.

    pressure [kPa], absolute, inside the table. Result [degC]. Raises OutsideTableError. Source: table made by CoolProp.

    >>> from stripdown.bench.fluid import fluid_of
    >>> round(bubble_temperature(fluid_of("R134a"), 665.38), 2)
    25.0
    """
    return _saturated(fluid, fluid.bubble_temperature, pressure)


def dew_pressure(fluid: Fluid, temperature: Number) -> Number:
    """Pressure of the saturated vapour.

    temperature [degC], inside the table. Result [kPa], absolute. Raises OutsideTableError. Source: table made by
    CoolProp.

    >>> from stripdown.bench.fluid import fluid_of
    >>> round(dew_pressure(fluid_of("R22"), 0.0), 2)
    497.99
    """
    return _saturation_pressure(fluid, fluid.dew_pressure, temperature)


def bubble_pressure(fluid: Fluid, temperature: Number) -> Number:
    """Pressure of the saturated liquid.

    temperature [degC], inside the table. Result [kPa], absolute. Raises OutsideTableError. Source: table made by
    CoolProp.

    >>> from stripdown.bench.fluid import fluid_of
    >>> round(bubble_pressure(fluid_of("R22"), 0.0), 2)
    497.99
    """
    return _saturation_pressure(fluid, fluid.bubble_pressure, temperature)


def superheat(fluid: Fluid, pressure: Number, temperature: Number) -> Number:
    """How far gas is above its dew line.

    pressure [kPa], absolute; temperature [degC]. Result [K], negative = wet. Raises OutsideTableError. Source: common
    practice.

    >>> from stripdown.bench.fluid import fluid_of
    >>> round(superheat(fluid_of("R134a"), 292.80, 10.0), 2)
    10.0
    """
    return temperature - dew_temperature(fluid, pressure)


def subcooling(fluid: Fluid, pressure: Number, temperature: Number) -> Number:
    """How far liquid is below its bubble line.

    pressure [kPa], absolute; temperature [degC]. Result [K]. Raises OutsideTableError. Source: common practice.

    >>> from stripdown.bench.fluid import fluid_of
    >>> round(subcooling(fluid_of("R134a"), 1016.59, 35.0), 2)
    5.0
    """
    return bubble_temperature(fluid, pressure) - temperature


def enthalpy(fluid: Fluid, pressure: Number, temperature: Number) -> Number:
    """Enthalpy of the gas; only differences mean anything.

    pressure [kPa], absolute; temperature [degC], superheated, inside the table. Result [kJ/kg]. Raises
    OutsideTableError. Source: table made by CoolProp.

    >>> from stripdown.bench.fluid import fluid_of
    >>> round(enthalpy(fluid_of("R134a"), 200.60, 0.0), 1)
    401.2
    """
    return _gas(fluid, fluid.gas.h, pressure, temperature)


def entropy(fluid: Fluid, pressure: Number, temperature: Number) -> Number:
    """Entropy of the gas; only differences mean anything.

    pressure [kPa], absolute; temperature [degC], superheated, inside the table. Result [kJ/(kg K)]. Raises
    OutsideTableError. Source: table made by CoolProp.

    >>> from stripdown.bench.fluid import fluid_of
    >>> round(entropy(fluid_of("R134a"), 200.60, 0.0), 3)
    1.765
    """
    return _gas(fluid, fluid.gas.s, pressure, temperature)


def gas_density(fluid: Fluid, pressure: Number, temperature: Number) -> Number:
    """Density of the gas.

    pressure [kPa], absolute; temperature [degC], superheated, inside the table. Result [kg/m³]. Raises
    OutsideTableError. Source: table made by CoolProp.

    >>> from stripdown.bench.fluid import fluid_of
    >>> round(gas_density(fluid_of("R134a"), 200.60, 0.0), 2)
    9.57
    """
    return pressure / _gas(fluid, fluid.gas.w, pressure, temperature)


def discharge_temperature(
    fluid: Fluid, suction: Number, temperature: Number, discharge: Number, efficiency: Number
) -> Number:
    """Temperature of the gas after compression: h2 = h1 + (h2s - h1) / efficiency.

    suction, discharge [kPa], absolute; temperature [degC], of the suction gas, superheated; efficiency [1],
    isentropic, above 0. Result [degC]. Raises OutsideTableError. Source: definition of isentropic efficiency;
    properties from the table made by CoolProp.

    >>> from stripdown.bench.fluid import fluid_of
    >>> round(discharge_temperature(fluid_of("R134a"), 200.60, 0.0, 1016.59, 0.7), 1)
    70.3
    """
    h1, isentropic, curve = _compressed(fluid, suction, temperature, discharge)
    return _temperature(fluid, discharge, _solve(fluid, curve, h1 + (isentropic - h1) / efficiency))


def discharge_band(fluid: Fluid, suction: float, temperature: float, discharge: float) -> tuple[float, float]:
    """Discharge temperatures of a sound machine, between the best and the worst usual efficiency; an estimate.

    suction, discharge [kPa], absolute; temperature [degC], of the suction gas. Result [degC]: low, high. Raises
    OutsideTableError. Source: estimate.

    >>> from stripdown.bench.fluid import fluid_of
    >>> [round(t) for t in discharge_band(fluid_of("R134a"), 200.60, 0.0, 1016.59)]
    [67, 84]
    """
    worst, best = EFFICIENCY
    h1, isentropic, curve = _compressed(fluid, suction, temperature, discharge)
    low, high = (_solve(fluid, curve, h1 + (isentropic - h1) / efficiency) for efficiency in (best, worst))
    return float(_temperature(fluid, discharge, low)), float(_temperature(fluid, discharge, high))


def rating(coefficients: Sequence[float], suction: Number, discharge: Number) -> Number:
    """A maker's rating polynomial of ten coefficients.

    coefficients [unit of the rated quantity], ten; suction, discharge [unit of the set: degC or degF], dew
    temperatures. Result [unit of the rated quantity]. Raises ValueError where there are not ten. Source: AHRI 540; EN
    12900 (from memory).

    >>> rating(range(1, 11), 2, 3)
    698
    """
    c, s, d = coefficients, suction, discharge
    if len(c) != 10:
        raise ValueError(f"a rating polynomial has 10 coefficients, not {len(c)}")
    terms = (1, s, d, s * s, s * d, d * d, s**3, d * s * s, s * d * d, d**3)
    return sum(k * term for k, term in zip(c, terms, strict=True))


def _saturated(fluid: Fluid, line: Line, pressure: Number) -> Number:
    return 1.0 / line.at(_log_pressure(fluid, line, pressure)) - _KELVIN


def _saturation_pressure(fluid: Fluid, line: Line, temperature: Number) -> Number:
    if not everywhere(temperature <= fluid.critical):
        raise OutsideTableError(
            f"{fluid.name}: {np.max(temperature):g} degC is above the critical point, {fluid.critical:g} degC"
        )
    if not everywhere((temperature >= fluid.low) & (temperature <= fluid.high)):
        raise OutsideTableError(f"{fluid.name}: the table goes from {fluid.low:g} to {fluid.high:g} degC")
    log_p = line.at(1.0 / (temperature + _KELVIN))
    return math.exp(log_p) if isinstance(log_p, float) else np.exp(log_p)


def _log_pressure(fluid: Fluid, line: Line, pressure: Number) -> Number:
    """ln p where the line holds; a hair outside its last point is still on it."""
    low, high = math.exp(line.middle - line.half) * (1 - 1e-4), math.exp(line.middle + line.half) * (1 + 1e-4)
    if everywhere((pressure >= low) & (pressure <= high)):
        return math.log(pressure) if isinstance(pressure, float | int) else np.log(pressure)
    raise OutsideTableError(f"{fluid.name}: the table goes from {low:.3g} to {high:.4g} kPa absolute")


def _gas(fluid: Fluid, rows: Sequence[Sequence[float]], pressure: Number, temperature: Number) -> Number:
    middle, half = fluid.gas.superheat
    above = superheat(fluid, pressure, temperature)
    if not everywhere((above >= -0.05) & (above <= middle + half)):
        raise OutsideTableError(f"{fluid.name}: gas tables hold from 0 to {middle + half:g} K of superheat")
    return horner(isobar(rows, fluid.gas.log_p, _gas_pressure(fluid, pressure)), (above - middle) / half)


def _gas_pressure(fluid: Fluid, pressure: Number) -> Number:
    """ln p where the gas table holds; it ends earlier than that of saturation."""
    log_p = _log_pressure(fluid, fluid.dew_temperature, pressure)
    middle, half = fluid.gas.log_p
    if not everywhere(abs(log_p - middle) <= half + 1e-4):
        raise OutsideTableError(f"{fluid.name}: the gas table ends at {math.exp(middle + half):.4g} kPa absolute")
    return log_p


def _compressed(
    fluid: Fluid, suction: Number, temperature: Number, discharge: Number
) -> tuple[Number, Number, list[Number]]:
    """Enthalpy before, enthalpy after lossless compression, and enthalpy over superheat at the pressure after it."""
    gas, log_p = fluid.gas, _gas_pressure(fluid, discharge)
    curve = isobar(gas.h, gas.log_p, log_p)
    lossless = _solve(fluid, isobar(gas.s, gas.log_p, log_p), entropy(fluid, suction, temperature))
    return enthalpy(fluid, suction, temperature), horner(curve, lossless), curve


def _temperature(fluid: Fluid, pressure: Number, superheated: Number) -> Number:
    """Temperature from the scaled superheat of `_solve` [degC]."""
    middle, half = fluid.gas.superheat
    return dew_temperature(fluid, pressure) + middle + half * superheated


def _solve(fluid: Fluid, c: Sequence[Number], wanted: Number) -> Number:
    """Scaled superheat at which a rising polynomial has the value wanted (Newton)."""
    x, d = 0.0 * wanted, slope(c)
    for _ in range(12):
        step = (horner(c, x) - wanted) / horner(d, x)
        x = x - step
        if everywhere(abs(step) < 1e-10):
            break
    if not everywhere(abs(x) <= 1.02):
        raise OutsideTableError(f"{fluid.name}: compression ends outside the gas table")
    return x
