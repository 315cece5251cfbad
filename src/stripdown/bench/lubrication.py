"""Oil: net pressure with the right reference, charge, acid. What a reading of the oil means."""

from stripdown.bench.number import Number

MOTOR_DROP = 2.0 * 6.894757
"""Pressure drop of the motor [kPa]: the motor chamber stands this much above the crankcase while running (2 psi,
common practice)."""
BYPASS = 60.0 * 6.894757
"""Net pressure [kPa] near which a pump's own by-pass opens (60 psi, common practice)."""
TRIP = (7.0 * 6.894757, 9.0 * 6.894757)
"""Net pressure [kPa] between which oil protection trips (7 to 9 psi, common practice)."""


def net_oil_pressure(pump: Number, crankcase: Number) -> Number:
    """What lifts the shaft: pump outlet less crankcase.

    pump, crankcase [kPa], both gauge or both absolute, of one moment. Result [kPa]. Source: common practice.

    >>> net_oil_pressure(460.0, 240.0)
    220.0
    """
    return pump - crankcase


def crankcase_from_suction(suction: Number) -> Number:
    """Crankcase pressure where only the suction port was read: the motor's pressure drop lower.

    suction [kPa]. Result [kPa], same reference. Its uncertainty is 1 psi wider. Source: common practice; widening:
    estimate.

    >>> round(crankcase_from_suction(100.0), 3)
    86.21
    """
    return suction - MOTOR_DROP


def oil_charge(drained: Number, charge: Number) -> Number:
    """Oil that came out as a share of the charge.

    drained [l], 0 or more; charge [l], of the limit sheet, above 0. Result [%]. Source: arithmetic.

    >>> oil_charge(3.2, 4.0)
    80.0
    """
    return 100.0 * drained / charge


def acid_rise(number: Number, fresh: Number) -> Number:
    """Acid number above that of fresh oil of the same type.

    number, fresh [mg KOH/g]. Result [mg KOH/g]. Source: common practice; measured by ASTM D974 or D664.

    >>> round(acid_rise(0.11, 0.02), 2)
    0.09
    """
    return number - fresh
