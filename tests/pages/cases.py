"""Cases put together by hand for the tests of pages and figures; the values are invented and belong to no machine."""

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from stripdown.case import Case
from stripdown.limits.model import Corrected, Judged, Tier, Verdict
from stripdown.reasoning.model import (
    Check,
    Conflict,
    Correction,
    Finding,
    Flip,
    Option,
    Outcome,
    Rival,
    Share,
    Step,
    Weight,
)
from stripdown.record.fault import Fault
from stripdown.record.model import Alarms, History, Observation, Plate, Reading, Record, Statement, Unit

FIRST = {
    "floodback": 0.9412,
    "oil_starvation": 0.0287,
    "wear_out": 0.0101,
    "debris_wear": 0.0075,
    "liquid_slug": 0.0050,
    "no_fault": 0.0001,
}


def _limits(low: float | None, high: float | None) -> tuple[Tier, ...]:
    return (Tier("limit", low, high),)


def _winding(pair: str, at: str, value: float, judged: float, p: float, verdict: Verdict) -> Judged:
    return Judged(
        quantity="winding_resistance",
        entry="readings[1]",
        between=pair,
        at=at,
        value=value,
        unit="ohm",
        corrected=Corrected(value * 1.0038, "ohm", 0.014, ("copper to 25 degC",)),
        rule="winding_balance",
        judged=judged,
        judged_unit="%",
        judged_uncertainty=0.9,
        tiers=(Tier("notice", -1.0, 1.0), Tier("limit", -2.0, 2.0)),
        tier="limit" if verdict != "within" else None,
        probability_within=p,
        verdict=verdict,
        source="limit sheet K4-150, issue 3",
    )


def _simple(
    quantity: str,
    value: float,
    unit: str,
    u: float,
    limits: tuple[float | None, float | None],
    p: float,
    verdict: Verdict,
    *,
    between: str | None = None,
    site: bool = False,
    cylinder: int | None = None,
    source: str = "common practice",
    remark: str | None = None,
) -> Judged:
    return Judged(
        quantity=quantity,
        between=between,
        value=value,
        unit=unit,
        site=site,
        cylinder=cylinder,
        corrected=Corrected(value, unit, u),
        rule=quantity,
        judged=value,
        judged_unit=unit,
        judged_uncertainty=u,
        tiers=_limits(*limits),
        tier="limit" if verdict == "outside" else None,
        probability_within=p,
        verdict=verdict,
        source=source,
        remark=remark,
    )


def readings() -> tuple[Judged, ...]:
    """Fourteen readings with every verdict among them."""
    return (
        _winding("U-V", "terminals", 0.86, 2.4, 0.36, "open"),
        _winding("V-W", "terminals", 0.83, -1.2, 0.81, "open"),
        _winding("W-U", "terminals", 0.83, -1.2, 0.81, "open"),
        _winding("U-V", "leads", 0.84, 0.2, 0.98, "within"),
        Judged(
            quantity="insulation_resistance",
            between="all-frame",
            at="leads",
            value="short",
            unit="Mohm",
            rule="insulation",
            judged_unit="Mohm",
            tiers=_limits(5.0, None),
            tier="limit",
            probability_within=0.0,
            verdict="outside",
            source="IEEE 43-2013",
            remark="A reading at the meter's floor is an earth fault whatever the limit.",
        ),
        replace(
            _simple("insulation_resistance", 620e6, "ohm", 6.2e7, (5e6, None), 1.0, "within", between="V-frame"),
            value=620,
            unit="Mohm",
        ),
        _simple("oil_pump_pressure", 96.5, "kPa", 6.0, (82.7, 413.7), 0.988, "within", site=True),
        _simple("discharge_line_temperature", 111.0, "degC", 2.4, (None, 107.0), 0.048, "outside", site=True),
        _simple("superheat", 2.0, "K", 1.5, (11.0, None), 0.0, "outside", site=True),
        _simple("main_bearing_play", 0.44, "mm", 0.003, (None, 0.15), 0.0, "outside"),
        _simple("pump_end_bearing_play", 0.052, "mm", 0.003, (None, 0.15), 1.0, "within"),
        _simple(
            "wrist_pin_drop",
            0.024,
            "mm",
            0.006,
            (None, 0.05),
            1.0,
            "within",
            cylinder=2,
            remark="No rod play was read, so none was taken off.",
        ),
        _simple("head_bolt_torque", 51.0, "N·m", 1.2, (42.0, 78.0), 1.0, "within"),
        Judged(
            quantity="oil_drained",
            value=1.9,
            unit="l",
            corrected=Corrected(1.9, "l", 0.02),
            source="no sheet for this model: no limit",
        ),
    )


def observations(photo: str | None) -> tuple[Observation, ...]:
    """Twenty things looked at, with every extent among them."""
    seen = [
        ("main_bearing", "worn", "heavy", (), "motor end, lower half", "journal blue-grey, 0.4 mm free up and down"),
        ("rod_bearings", "worn_progressive", "heavy", (1, 2, 3, 4), None, "worse from pump end to motor end"),
        ("crankshaft", "scored_progressive", "heavy", (), None, None),
        ("crankshaft", "heat_tinted", "none", (), None, None),
        ("rotor", "rubbed", "heavy", (), "bottom third", None),
        ("stator", "rubbed", "heavy", (), "six o'clock", None),
        ("stator", "burnt_spot", "heavy", (), "at the rub", "copper beads beside it"),
        ("pump_end_bearing", "worn", "none", (), None, None),
        ("oil", "thin_diluted", "slight", (), None, "foamed for ten minutes in the jug"),
        ("oil", "low", "none", (), None, None),
        ("oil_pump", "worn", "none", (), None, None),
        ("oil_screen", "blocked", "slight", (), None, "fine grey paste"),
        ("valve_plate", "discoloured_fixed", "none", (), "bank 1", None),
        ("valve_plate", "dark_film_wipes_off", "slight", (), "bank 1", "wiped off with solvent"),
        ("suction_reed", "broken", "none", (1, 2, 3, 4), None, None),
        ("head_gasket", "blown", "none", (), None, None),
        ("piston", "worn", "unreadable", (3,), None, "packed with debris"),
        ("terminal_plate", "carbon_track", "none", (), None, None),
        ("terminal_nuts", "loose", "slight", (), None, None),
        ("evaporator", "iced", "heavy", (), "reported by the contractor", None),
        ("expansion_valve", "bulb_loose", "none", (), None, None),
    ]
    return tuple(
        Observation(
            entry=f"observations[{i}]",
            part=part,
            condition=condition,
            extent=extent,  # type: ignore[arg-type]
            cylinders=cylinders,
            where=where,
            note=note,
            photos=(photo,) if photo and i in (1, 5) else (),
        )
        for i, (part, condition, extent, cylinders, where, note) in enumerate(seen, 1)
    )


def record(folder: Path | None = None, photo: str | None = None) -> Record:
    """The record behind the floodback case."""
    return Record(
        claim="NB-2026-0117",
        file="returns/nb-0117.toml",
        folder=str(folder or "."),
        unit=Unit(
            serial="K4-7719-0312",
            model="K4-150",
            built=date(2019, 4, 11),
            refrigerant="R449A",
            oil="POE 32",
            run_hours=21400,
            cooling="refrigerant",
            motor="star",
            oil_feed="pump",
            cylinders=4,
            plate=Plate(voltage=400, frequency=50, current=28),
        ),
        history=History(
            installed=date(2020, 2, 3),
            failed=date(2026, 1, 14),
            returned=date(2026, 1, 29),
            site="north packing shed",
            altitude=240,
            warranty_until=date(2022, 2, 3),
            contractor="crew 7",
            duty="low",
            reported="breaker trips, earth fault",
            replaces="K4-7102-0044",
            failed_when="running",
            opened_before="workshop",
            alarms=Alarms(oil=3, motor_heat=0, locked_rotor=1),
            log="logs/nb-0117.csv",
        ),
        readings=(
            Reading(
                entry="readings[1]",
                quantity="winding_resistance",
                value=0.86,
                unit="ohm",
                base=0.86,
                base_unit="ohm",
                between="U-V",
                at="terminals",
                temperature=24,
                time=datetime(2026, 2, 3, 9, 40),
            ),
        ),
        observations=observations(photo),
        statements=(
            Statement(by="contractor", text="unit was never opened"),
            Statement(by="site", text="it iced up again in December, we hosed the coil down"),
        ),
        revision=1,
        examined_by="bench 2",
        examined_on=date(2026, 2, 3),
        instruments=("low-ohm meter 4", "insulation tester 2, 500 V", "dial gauge 0.01 mm"),
    )


def finding() -> Finding:
    """What the reasoning would say of it, numbers invented."""
    return Finding(
        status="established",
        first=tuple(Share(k, v) for k, v in FIRST.items()),
        mechanisms=(Share("floodback", 0.962), Share("debris_wear", 0.31), Share("wear_out", 0.04)),
        causes=(
            Share("low_load", 0.83),
            Share("liquid_overfeed", 0.21),
            Share("defrost_fault", 0.17),
            Share("overcharge", 0.06),
        ),
        outcome=Outcome(
            "replace_compressor",
            2140.0,
            "EUR",
            (Option("rebuild", 2610.0), Option("inspect_further", 2702.5)),
            why=("stator rubbed and earthed: no repair on the site", "winding not sound: rebuild needs a new stator"),
        ),
        liability=(Share("system", 0.95), Share("installation", 0.03), Share("works", 0.02)),
        avoidable_return=0.08,
        avoidable_failure=0.93,
        unexplained=("terminal_nuts.loose",),
        parts=("main_bearing", "stator", "rotor", "crankshaft", "rod_bearings"),
        chain=(
            Step("low_load", "evaporator starved of air or load", 0.83, False),
            Step("floodback", "liquid returned while running", 0.94, False),
            Step("bearing_wear", "running gear worn", 0.99, False),
            Step("main_bearing.worn", "motor-end bearing worn", 1.0, True),
            Step("rotor_drag", "rotor sunk onto the stator", 0.98, False),
            Step("stator.rubbed", "stator rubbed and earthed", 1.0, True),
        ),
        evidence=(
            Weight("main_bearing.worn heavy", 13.1, 0.71),
            Weight("crankshaft.scored_progressive heavy", 11.6, 0.78),
            Weight("evaporator.iced heavy", 4.9, 0.92),
            Weight("oil.thin_diluted slight", 2.2, 0.93),
            Weight("superheat low", 6.4, 0.90),
            Weight("rotor.rubbed heavy", 1.8, 0.94),
            Weight("expansion_valve.bulb_loose none", -1.9, 0.96),
            Weight("terminal_nuts.loose slight", -0.4, 0.95, 0.1),
        ),
        rival=Rival(
            "oil_starvation",
            0.0287,
            ("three oil alarms in the protection's memory", "motor-end bearing worn"),
            ("oil level right when drained", "journals scored more towards the motor end, not all alike"),
        ),
        flips=(Flip("oil.low: none → heavy", "oil_starvation"),),
        robustness=0.97,
        next_checks=(
            Check(
                "oil_screen.blocked",
                0.21,
                14.0,
                10,
                "Prove zero pressure on all three sides before the bottom cover comes off; two opposite bolts stay in.",
                "look at the oil screen",
            ),
            Check(
                "oil_pickup.blocked",
                0.08,
                6.0,
                15,
                "Drained oil goes on giving off gas: ventilate, no flame.",
                "look into the oil pick-up",
            ),
        ),
        corrections=(
            Correction("low_load", "clear coil, fans and defrost; set cycling limits; a valve suited to low load"),
            Correction("liquid_overfeed", "refix and insulate the bulb, set superheat at working load"),
            Correction("defrost_fault", "terminate by temperature, drip time, drain-down, staged restart"),
            Correction(
                None,
                "clean the system up after the burn: suction drier, acid test after 24–72 h, then remove the core",
            ),
        ),
        cautions=(
            "Isolate, lock out, tag and prove dead before the terminal cover comes off.",
            "Refrigerant is recovered only by a licensed person with certified equipment.",
            "After a burn the oil holds acid: acid-proof gloves, goggles, moving air, gel at hand.",
        ),
    )


def floodback(folder: Path | None = None, photo: str | None = None) -> Case:
    """An established case with all sections filled."""
    return Case(
        record=record(folder, photo),
        finding=finding(),
        readings=readings(),
        notices=(
            Fault(
                "returns/nb-0117.toml",
                "history.log",
                "the site log is kept but not used yet",
                "read it beside this page",
            ),
        ),
        knowledge="sha256:" + "4f" * 32,
        version="0.1.0",
    )


def conflicting() -> Case:
    """The same record with findings that do not go together."""
    case = floodback()
    f = replace(
        case.finding,
        status="conflicting",
        conflict=Conflict(6.4, 0.0031, ("crankshaft.heat_tinted heavy", "cylinder_bore.washed_bright heavy")),
        outcome=Outcome("inspect_further", 140.0, "EUR", (), ("findings that clash bar every other outcome",)),
        liability=(Share("undetermined", None), Share("system", 0.5), Share("installation", 0.3)),
        robustness=0.71,
    )
    return replace(case, finding=f)


def open_case() -> Case:
    """A thin record: little looked at, no readings, nothing decided."""
    f = Finding(
        status="open",
        first=(Share("liquid_slug", 0.34), Share("valve_fatigue", 0.29), Share("no_fault", 0.12), Share("surge", 0.25)),
        mechanisms=(Share("liquid_slug", 0.4), Share("valve_fatigue", 0.3)),
        causes=(Share("heater_off", 0.14),),
        outcome=Outcome("inspect_further", 90.0, "EUR", (Option("replace_compressor", 180.0),)),
        liability=(Share("undetermined", None),),
        avoidable_return=0.2,
        avoidable_failure=0.4,
    )
    thin = Record(claim="WS-1", file="ws-1.toml", folder=".", unit=Unit(serial="1", model="M8"))
    return Case(record=thin, finding=f, readings=(), notices=(), knowledge="sha256:" + "0" * 64, version="0.1.0")


HOSTILE = (
    "<script>alert(1)</script>",
    "{{7*7}} {% raw %}",
    '#eval("1+1") #panic()',
    "$x^2$ *bold* _it_ `code` @ref <label> \\",
    '"><img src=x onerror=alert(1)>',
    "\u202egnp.exe\u202c and \u0007bell",
)


def hostile() -> Case:
    """The floodback case with text in every free field that tries to be markup, code or layout."""
    case = floodback()
    r = case.record
    spread = [HOSTILE[i % len(HOSTILE)] for i in range(len(r.observations))]
    rec = replace(
        r,
        examined_by=HOSTILE[0],
        instruments=HOSTILE,
        unit=replace(r.unit, model=HOSTILE[3], oil=HOSTILE[0], refrigerant=HOSTILE[2], serial=HOSTILE[4]),
        history=replace(r.history, site=HOSTILE[1], contractor=HOSTILE[5], reported=" ".join(HOSTILE)),
        observations=tuple(replace(o, note=s, where=s) for o, s in zip(r.observations, spread, strict=True)),
        statements=tuple(Statement(by=s, text=s) for s in HOSTILE),
    )
    return replace(case, record=rec)
