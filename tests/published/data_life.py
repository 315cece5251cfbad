"""Published life data, as far as several tests need them. Ages in the unit of the source."""

from stripdown.fleet.ages import Ages, ages


def counted(text: str) -> tuple[list[float], list[float]]:
    """ "50:288 150:148" → ages and counts."""
    pairs = [item.split(":") for item in text.split()]
    return [float(a) for a, _ in pairs], [float(n) for _, n in pairs]


def numbers(text: str) -> list[float]:
    return [float(x) for x in text.split()]


def of(failed: str, running: str = "") -> Ages:
    """Failures one by one; running as age or age:count."""
    at, n = counted(" ".join(x if ":" in x else f"{x}:1" for x in running.split()))
    return ages(numbers(failed), at, running_count=n)


# NIST/SEMATECH e-Handbook of Statistical Methods 8.4.1.3, hours
NIST20 = of("54 187 216 240 244 335 361 373 375 386", "500:10")
# bearing cages, 1703 units, hours (Abernethy and others 1983;
# Meeker & Escobar, Statistical Methods for Reliability Data, ex. 8.16)
CAGE_FAILED = "230 334 423 990 1009 1510"
CAGE_RUNNING = (
    "50:288 150:148 250:124 350:111 450:106 550:99 650:110 750:114 850:119 950:127 1050:123 1150:93 "
    "1250:47 1350:41 1450:27 1550:11 1650:6 1850:1 2050:2"
)
CAGE = of(CAGE_FAILED, CAGE_RUNNING)
# vehicle shock absorbers, 38 units, km (Meeker & Escobar, app. C, p. 630; from O'Connor 1985)
SHOCK_1 = "6700 12200 14300 17520 22700 26510 27490"
SHOCK_2 = "9120 13150 20100 20900"
SHOCK_RUNNING = (
    "6950 7820 8790 9660 9820 11310 11690 11850 11880 12140 12870 13330 13470 14040 17540 17890 18450 18960 18980 "
    "19410 20100 20150 20320 23490 27410 27890 28100"
)
SHOCK = of(f"{SHOCK_1} {SHOCK_2}", SHOCK_RUNNING)
# fans of diesel generators, 70 units, hours (Nelson, Applied Life Data Analysis; Meeker & Escobar, app. C)
FAN = of(
    "450 1150 1150 1600 2070 2070 2080 3100 3450 4600 6100 8750",
    "460:1 1560:1 1660:1 1850:5 2030:3 2200:1 3000:4 3200:1 3750:2 4150:4 4300:4 4850:4 5000:3 6100:3 6300:1 "
    "6450:2 6700:1 7450:1 7800:2 8100:2 8200:1 8500:3 8750:2 9400:1 9900:1 10100:3 11500:1",
)
# device G, 30 units, kilocycles (Meeker & Escobar, app. C)
SURGE = "2 10 13 23 23 28 30 65 80 88 106 143 173 247 261"
WEAR = "147 181 212 245 266 275 293"
DEVICE_RUNNING = "300:8"
# 23 ball bearings, 10^6 revolutions (Lieblein & Zelen 1956)
BALL23_TEXT = (
    "17.88 28.92 33.00 41.52 42.12 45.60 48.40 51.84 51.96 54.12 55.56 67.80 "
    "68.64 68.64 68.88 84.12 93.12 98.64 105.12 105.84 127.92 128.04 173.40"
)
BALL23 = of(BALL23_TEXT)
# 167 turbine parts, months, inspected (Nelson, Applied Life Data Analysis, p. 415): found cracked at the inspection
_found = counted("6.12:5 19.92:16 29.64:12 35.40:18 39.72:18 45.24:2 52.32:6 63.48:17")
CRACKS = ages(
    running=[63.48],
    running_count=[73],
    between=list(zip([0.0, *_found[0][:-1]], _found[0], strict=True)),
    between_count=_found[1],
)
# heat exchanger tubes, three plants of 100, years (Meeker & Escobar, ch. 3)
TUBES = ages(running=[1, 2, 3], running_count=[99, 95, 95], between=[(0, 1), (1, 2), (2, 3)], between_count=[4, 5, 2])
JQT20 = of("24 32 34 34 45 45 46 50 56 58 63 79", "23 24 51 57 59 76 78 85")  # J. Quality Technology 29, 1997
C5 = of("1500 2250 4000 4300 7000", "1750 5000")  # The New Weibull Handbook, C.5
SIX = of("16 34 53 75 93 120")  # classroom sample, Kececioglu 1993
F25 = of("30 49 82 90 96", "10 45 100")  # The New Weibull Handbook, fig. 2-5
# no failures, hours (Meeker & Escobar, ch. 8, staggered entry)
COMP_A = of("", "500:10 1000:12 1500:8 2000:9 2500:7 3000:9 3500:6 4000:3")
