"""Make the parts of data/demo that a person would not type: workbook, pictures, site log, units table.

python tools/make_demo.py [FOLDER]      writes below FOLDER (data/demo); the hand-written returns must be there already.
The same bytes every time: fixed seeds, no clock.
"""

import bisect
import csv
import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path

import demo_pictures
import demo_workbook

from stripdown.record import Record, read_all

DEMO = Path(__file__).resolve().parent.parent / "data" / "demo"
TABLE_ENDS = date(2025, 12, 31)
RECORDS_BEGIN = date(2023, 1, 1)
ABSENT = {"Q3-88-1207", "T2060-1811-0044"}  # returns whose unit nobody had entered
CREWS = {
    "Ülmtal depot": "crew 3",
    "Torvik harbour cold store": "crew 8",
    "Brackmoor packing plant": "own fitters",
    "Pellworth depot": "crew 12",
    "Café Lumière": "crew 15",
    "Sainte-Aubépine shop": "crew 15",
    "Larkhill shop": "crew 8",
    "Østerby flower hall": "crew 3",
    "Mesa Flat depot": "crew 21",
}
# model: how many in all, and where it stands (a site named twice has twice as many)
FLEET = {
    "K4-150": (160, "Pellworth depot|Pellworth depot|Brackmoor packing plant|Østerby flower hall|Mesa Flat depot"),
    "K4-085": (130, "Larkhill shop|Larkhill shop|Sainte-Aubépine shop|Østerby flower hall|Café Lumière"),
    "K6-220": (95, "Ülmtal depot|Ülmtal depot|Torvik harbour cold store|Brackmoor packing plant|Pellworth depot"),
    "M6-260": (60, "Ülmtal depot|Torvik harbour cold store|Pellworth depot"),
    "T2-060": (55, "Larkhill shop|Sainte-Aubépine shop|Café Lumière"),
    "T3-075": (40, "Larkhill shop|Sainte-Aubépine shop"),
    "M8-400": (25, "Torvik harbour cold store|Ülmtal depot"),
    "N4-120": (20, "Mesa Flat depot"),
    "V4-095": (15, "Brackmoor packing plant|Østerby flower hall"),
}
LOOSE_ROTORS = ("M6-260", date(2022, 3, 9))
REJECTED = ("K4085-2110-0206", "K4-085", "Larkhill shop", date(2021, 10, 11), date(2022, 1, 10), date(2025, 7, 22))


@dataclass(frozen=True, slots=True, order=True)
class Unit:
    """One row of the units table."""

    installed: date
    serial: str
    model: str
    site: str
    contractor: str
    built: date
    removed: date | None = None
    replaces: str = ""


def make(folder: Path) -> None:
    """Write every made file below `folder`."""
    returns = folder / "returns"
    demo_workbook.write(returns / "returns.xlsx")
    demo_pictures.draw_all(returns / "photos")
    write_log(returns / "logs" / "tw-2025-016.csv")
    records = [r for r in read_all([returns]) if isinstance(r, Record)]
    write_units(folder / "units.csv", population(records))


# --- the units table


def population(records: list[Record]) -> list[Unit]:
    """All units: the returned ones, what stands in their place, the batch with loose rotors, and the quiet rest."""
    dice = random.Random(20260131)
    units = [_returned(r) for r in records if r.unit.serial not in ABSENT]
    units.append(_rejected())
    units += list(_replacements(units, dice))
    units += _batch(dice)
    for model, (wanted, sites) in FLEET.items():
        missing = wanted - sum(u.model == model for u in units)
        units += [_installed_anywhen(model, dice.choice(sites.split("|")), dice) for _ in range(missing)]
    return _renamed_twins(_with_removals(units, {r.unit.serial for r in records}, dice))


def _returned(record: Record) -> Unit:
    unit, history = record.unit, record.history
    assert history.installed is not None
    assert history.failed is not None
    return Unit(
        installed=history.installed,
        serial=unit.serial,
        model=unit.model,
        site=history.site or "",
        contractor=history.contractor or "",
        built=unit.built or history.installed - timedelta(days=110),
        removed=history.failed + timedelta(days=1),
        replaces=history.replaces or "",
    )


def _rejected() -> Unit:
    serial, model, site, built, installed, removed = REJECTED
    return Unit(installed, serial, model, site, CREWS[site], built, removed)


def _replacements(returned: list[Unit], dice: random.Random) -> Iterator[Unit]:
    """A new unit in the place of each returned one, a few days later, unless a returned one already took it."""
    taken = {u.replaces for u in returned}
    for unit in returned:
        assert unit.removed is not None
        installed = unit.removed + timedelta(days=dice.randint(0, 5))
        if unit.serial not in taken and installed <= TABLE_ENDS:
            yield replace(_new(unit.model, unit.site, installed, dice), replaces=unit.serial)


def _batch(dice: random.Random) -> list[Unit]:
    model, built = LOOSE_ROTORS
    starts = [date(2022, 7, 4) + timedelta(days=dice.randint(0, 200)) for _ in range(5)]
    sites = FLEET[model][1].split("|")
    numbers = [n for n in range(38, 53) if n not in (41, 44, 47)]
    return [
        Unit(day, f"M6260-2203-{n:04d}", model, sites[n % 3], CREWS[sites[n % 3]], built + timedelta(days=n % 5))
        for day, n in zip(starts, numbers, strict=False)
    ]


def _installed_anywhen(model: str, site: str, dice: random.Random) -> Unit:
    """The company has grown: most of what it runs was put in since 2021."""
    year = dice.choices(range(2016, 2026), weights=(2, 2, 3, 3, 4, 12, 17, 17, 17, 13))[0]
    first = date(max(year, 2019) if model == "V4-095" else year, 1, 8)
    return _new(model, site, first + timedelta(days=dice.randint(0, 350)), dice)


def _new(model: str, site: str, installed: date, dice: random.Random) -> Unit:
    built = installed - timedelta(days=dice.randint(40, 170))
    if (model, built.year, built.month) == (LOOSE_ROTORS[0], LOOSE_ROTORS[1].year, LOOSE_ROTORS[1].month):
        built -= timedelta(days=31)
    number = dice.randint(5, 399)
    serial = f"{4000 + number:06d}" if model == "N4-120" else f"{model.replace('-', '')}-{built:%y%m}-{number:04d}"
    return Unit(installed, serial, model, site, CREWS[site], built)


def _with_removals(units: list[Unit], returned: set[str], dice: random.Random) -> list[Unit]:
    """Units taken out without a return: scrapped before records were kept, or removed with a refit."""
    old = [u for u in units if u.removed is None and u.installed < date(2021, 7, 1)]
    gone = dict.fromkeys((u.serial for u in dice.sample(old, 9)), RECORDS_BEGIN)
    refit = [u for u in units if u.removed is None and u.serial not in gone and u.installed < date(2023, 6, 1)]
    gone |= dict.fromkeys((u.serial for u in dice.sample(refit, 24)), TABLE_ENDS)
    out = []
    for unit in sorted(units):
        if unit.serial in gone and unit.serial not in returned and unit.removed is None:
            start = max(unit.installed, RECORDS_BEGIN) if gone[unit.serial] == TABLE_ENDS else unit.installed
            days = (gone[unit.serial] - start).days
            unit = replace(unit, removed=start + timedelta(days=dice.randint(days // 5, days - 1)))
        out.append(unit)
    return out


def _renamed_twins(units: list[Unit]) -> list[Unit]:
    """Give a second unit of the same serial the next free number; one serial looks like a number to a spreadsheet."""
    taken = {u.serial for u in units if u.removed is not None}
    out, seen = [], set()
    for unit in units:
        serial = unit.serial
        while serial in seen or (serial in taken and unit.removed is None):
            stem, number = (serial[:-4], int(serial[-4:])) if "-" in serial else ("00", int(serial))
            serial = f"{stem}{number + 1:04d}"
        seen.add(serial)
        out.append(replace(unit, serial=serial))
    plain = next(i for i, u in enumerate(out) if u.model == "N4-120" and u.removed is None)
    out[plain] = replace(out[plain], serial="12E4")
    return out


def write_units(target: Path, units: list[Unit]) -> None:
    """Write the table in the order of installation."""
    with target.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["serial", "model", "site", "contractor", "built", "installed", "removed", "replaces"])
        for u in units:
            rows.writerow([u.serial, u.model, u.site, u.contractor, u.built, u.installed, u.removed or "", u.replaces])


# --- the site log

# R449A, dew line: pressure [bar, absolute] and temperature [degC], from CoolProp 8.0
DEW = ((1.217, -36.0), (1.398, -33.0), (1.600, -30.0), (1.986, -25.0))
ATMOSPHERE = 1.013
LOG_COLUMNS = (
    "time,running,suction_pressure [bar],discharge_pressure [bar],suction_gas_temperature [degC],"
    "discharge_line_temperature [degC],oil_sump_temperature [degC],ambient_temperature [degC],current [A]"
)


def write_log(target: Path) -> None:
    """A day by the minute, two days before the motor burnt: the coil ices up, superheat goes, the sump gets cold."""
    dice = random.Random(16)
    sump, lines = 38.0, [LOG_COLUMNS]
    for minute in range(24 * 60):
        moment = datetime(2025, 9, 6) + timedelta(minutes=minute)
        since_defrost = (minute - 6 * 60) % (12 * 60)
        running = since_defrost >= 35
        ice = min(1.0, since_defrost / 540)
        suction = (1.95 - 0.55 * ice if running else 2.9) - ATMOSPHERE + dice.gauss(0, 0.01)
        superheat = max(0.4, 8.0 - 9.5 * ice + dice.gauss(0, 0.4)) if running else 25.0
        sump += ((20.0 + 24.0 * (1 - ice)) - sump) / 90 if running else (30.0 - sump) / 200
        if 190 <= minute < 204:  # the controller was offline
            continue
        values = (
            suction,
            13.4 - 0.9 * ice + dice.gauss(0, 0.08) if running else 11.2,
            min(_dew(suction + ATMOSPHERE) + superheat, 18.0),
            74.0 - 26.0 * ice + dice.gauss(0, 0.5) if running else 40.0,
            sump,
            17.0 + dice.gauss(0, 0.1),
            71.0 - 9.0 * ice + dice.gauss(0, 0.6) if running else 0.0,
        )
        numbers = ",".join(f"{v:.2f}" if i < 2 else f"{v:.1f}" for i, v in enumerate(values))
        lines.append(f"{moment:%Y-%m-%dT%H:%M:%S},{running:d},{numbers}")
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _dew(pressure: float) -> float:
    """Temperature [degC] at `pressure` [bar, absolute], straight lines between the points of DEW."""
    at = min(max(bisect.bisect(DEW, (pressure,)), 1), len(DEW) - 1)
    (p0, t0), (p1, t1) = DEW[at - 1], DEW[at]
    return t0 + (t1 - t0) * (pressure - p0) / (p1 - p0)


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else DEMO)
