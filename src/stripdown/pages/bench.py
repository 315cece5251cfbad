"""Sections that show the evidence: readings, what was found, what was not looked at."""

from collections.abc import Mapping

from stripdown.case import Case
from stripdown.figures import machine, readings, resistances
from stripdown.figures.levels import check_words
from stripdown.figures.words import EXTENT_WORDS, EXTENTS, VERDICTS, chance_words, verdict_words
from stripdown.limits.model import Judged
from stripdown.pages import blocks as b
from stripdown.pages import photos, units
from stripdown.pages.show import Show
from stripdown.reasoning.model import Check
from stripdown.record.groups import Group, groups, looked_at
from stripdown.record.model import Observation
from stripdown.vocabulary import label

_LEVELS = {"within": "good", "outside": "bad", "open": "warn", "no_limit": ""}
_EXTENT_LEVELS = {"heavy": "bad", "slight": "warn", "unreadable": "", "none": "good"}
_MOST_PHOTOS = 24
_LEAST_SAVING = 0.5
"""Of the currency: what would be told as nothing."""
_MOST_CHECKS = 6
_FOUND = (("Part", 1.6), ("Condition", 2.0), ("Extent", 1.1), ("Where", 1.7), ("Note", 2.8), ("Weight", 0.8))
_ELECTRICAL = {
    *("winding_resistance", "insulation_resistance", "sensor_resistance", "heater_resistance"),
    *("supply_voltage", "running_current", "contact_voltage_drop"),
}
_TAKEN_AGAIN = (
    "Whoever takes electrical readings again: only on a circuit that is isolated, locked off and proven dead, by a "
    "licensed person (live ones by a licensed electrician at the switchgear). No insulation test under vacuum, none "
    "across sensors or electronics. Protective devices stay in circuit. Local code and the maker's instructions first."
)
_TRUE_AND_SOUND = ("crank.turns_freely", "pumping.pumps")


def measured(case: Case, show: Show) -> list[b.Block]:
    """Every reading with value, correction, uncertainty, limit, verdict and source in one row."""
    if not case.readings:
        return [b.para("The record holds no readings. What was not measured is not known to be sound.")]
    counts = {v: sum(r.verdict == v for r in case.readings) for v in VERDICTS}
    said = ", ".join(f"{n} {verdict_words(v)}" for v, n in counts.items() if n)
    rows = [_reading(r, show) for r in case.readings]
    columns = (
        ("Reading", 2.5),
        ("As read", 1.1),
        ("Judged value", 2.0),
        ("Limit", 1.6),
        ("Verdict", 1.4),
        ("Source", 2.4),
    )
    explain = (
        "± is one standard uncertainty. Within: at least 95 % probable to lie inside the limits; outside: at most 5 %; "
        "undecided: between, “open” in result.json. The bars on the chart are two standard uncertainties long to each "
        "side."
    )
    if any(r.rule == "winding_balance" for r in case.readings):
        explain += " A balance does not see a few shorted turns; a surge comparison in a workshop does."
    electrical = any(r.quantity in _ELECTRICAL for r in case.readings)
    return [
        *([b.caution([_TAKEN_AGAIN])] if electrical else []),
        b.para(f"{len(case.readings)} reading{'' if len(case.readings) == 1 else 's'}: {said}."),
        *b.figure(readings.against_limits(case)),
        *b.figure(resistances.resistances(case)),
        b.table("Readings, corrections, limits", columns, rows),
        b.small(explain),
    ]


def _reading(r: Judged, show: Show) -> list[str | b.Block]:
    written = r.value if isinstance(r.value, str) else units.number(r.value, 6)
    said = [*(r.corrected.corrections if r.corrected else ()), *([r.remark] if r.remark else [])]
    note = units.in_words(" · ".join(said), show.system)
    tier = f", past {r.tier}" if r.tier in ("notice", "danger") else ""
    chance = "" if r.probability_within is None else f"{chance_words(r.probability_within)} within{tier}"
    limits = "–"
    if any(x is not None for x in r.limits()):
        limits = units.limits(*r.limits(), r.judged_unit or r.unit, show.system, r.quantity)
    return [
        b.cell(readings.name(r), note=note),
        f"{written} {r.unit}" if not isinstance(r.value, str) else written,
        _held(r, show),
        limits,
        b.cell(verdict_words(r.verdict), mark=VERDICTS[r.verdict], level=_LEVELS[r.verdict], note=chance),
        units.in_words(r.source, show.system),
    ]


def _held(r: Judged, show: Show) -> str | b.Block:
    """The judged value; below it its rule, and the corrected value where that is another."""
    c = r.corrected
    plain = units.measured(c.value, c.unit, show.system, uncertainty=c.uncertainty, quantity=r.quantity) if c else ""
    if r.judged is None:
        return plain or "–"
    low = r.limits()[0]
    text = units.measured(
        r.judged,
        r.judged_unit or "",
        show.system,
        uncertainty=r.judged_uncertainty,
        quantity=r.quantity,
        plus=low is not None and low < 0,
    )
    rule = "" if r.rule is None or r.rule == r.quantity else label(r.rule)
    other = c is not None and (c.unit, c.value) != (r.judged_unit, r.judged)
    before = ("corrected " if c is not None and c.corrections else "read ") + plain if other else ""
    return b.cell(text, note=" · ".join(x for x in (rule, before) if x))


def found(case: Case, show: Show) -> list[b.Block]:
    """The machine drawing, then each group's findings, then the photos."""
    r = case.record
    if not r.observations:
        return [b.para("The record holds no findings part by part.")]
    who = f"Examined by {r.examined_by or 'a person not named'}, {units.day(r.examined_on) or 'date not stated'}"
    tools = f"; instruments: {'; '.join(r.instruments)}" if r.instruments else "; instruments not stated"
    weights = {w.finding: units.number(round(w.decibans, 1), 3, plus=True) for w in case.finding.evidence}
    rows = [row for g in groups() for row in _group_rows(g, r.observations, weights)]
    out = [b.para(who + tools + "."), *b.figure(machine.machine(case))]
    if rows:
        caption = (
            "Found damaged, unusual or unreadable; weight for the headline in decibans, none = told by its reading"
        )
        out.append(b.table(caption, _FOUND, rows, "lllllr"))
    out += _sound(r.observations, weights) + _photos(case)
    return out


def _is_sound(o: Observation) -> bool:
    return o.extent == "none" or o.finding in _TRUE_AND_SOUND


def _group_rows(
    group: Group, observations: tuple[Observation, ...], weights: Mapping[str, str]
) -> list[list[str | b.Block]]:
    mine = [o for o in observations if o.part in group.parts and not _is_sound(o)]
    return [
        [
            label(o.part),
            label(o.condition),
            b.cell(EXTENT_WORDS[o.extent], mark=EXTENTS[o.extent], level=_EXTENT_LEVELS[o.extent]),
            _where(o),
            o.note or "",
            weights.get(f"{o.finding} {o.extent}", ""),
        ]
        for o in mine
    ]


def _where(o: Observation) -> str:
    cylinders = f"cyl. {', '.join(str(c) for c in o.cylinders)}" if o.cylinders else ""
    return "; ".join(x for x in (cylinders, o.where or "") if x)


def _sound(observations: tuple[Observation, ...], weights: Mapping[str, str]) -> list[b.Block]:
    items = []
    for g in groups():
        good = [_sound_words(o, weights) for o in observations if o.part in g.parts and _is_sound(o)]
        if good:
            items.append([b.strong(f"{g.title}: "), "; ".join(dict.fromkeys(good)) + "."])
    if not items:
        return []
    return [b.heading("Looked for and not found, with its weight [decibans]"), b.bullets(items)]


def _sound_words(o: Observation, weights: Mapping[str, str]) -> str:
    """What was looked for, with its weight; of a crank that turns and a machine that pumps, that it does."""
    words = f"tested and good: {label(o.condition)}" if o.finding in _TRUE_AND_SOUND else label(o.finding)
    weight = weights.get(f"{o.finding} {o.extent}")
    return f"{words} ({weight})" if weight else words


def _photos(case: Case) -> list[b.Block]:
    wanted: dict[str, list[str]] = {}
    for o in case.record.observations:
        for name in o.photos:
            wanted.setdefault(name, []).append(f"{label(o.finding)} ({EXTENT_WORDS[o.extent]})")
    if not wanted:
        return []
    items = []
    for name, captions in list(wanted.items())[:_MOST_PHOTOS]:
        p = photos.load(case.record.folder, name)
        items.append(p._asdict() | {"caption": "; ".join(captions), "name": name})
    out: list[b.Block] = [b.heading("Photos"), {"kind": "photos", "items": items}]
    if len(wanted) > _MOST_PHOTOS:
        out.append(b.small("Not shown for room: " + "; ".join(list(wanted)[_MOST_PHOTOS:]) + "."))
    return out


def not_looked_at(case: Case, show: Show) -> list[b.Block]:
    """Main groups that the record is silent about, and the checks that would decide, cautions first."""
    seen = looked_at(case.record)
    out: list[b.Block] = []
    missing = [g for g in groups() if not seen[g.id]]
    if missing:
        names = "; ".join(g.title for g in missing)
        out.append(b.para(b.strong("Not looked at is never found sound. "), f"The record says nothing about: {names}."))
    else:
        out.append(b.para("Every main group of machine and site was looked at or measured, in part at least."))
    lost = [f"{label(o.finding)}" for o in case.record.observations if o.extent == "unreadable"]
    if lost:
        out.append(b.para("Looked at but unreadable: ", "; ".join(lost) + "."))
    if not any(g.side == "site" and seen[g.id] for g in groups()):
        out.append(b.para("Nothing is known of the system it ran in: causes rest on the compressor alone."))
    out.append(b.heading("What would decide"))
    if not case.finding.next_checks:
        out.append(b.para("No further check that is still possible is worth its time."))
    shown = case.finding.next_checks[:_MOST_CHECKS]
    for caution in dict.fromkeys(c.caution for c in shown):
        out.append(b.card(caution, [_check(c, case, show) for c in shown if c.caution == caution]))
    if len(case.finding.next_checks) > _MOST_CHECKS:
        rest = "; ".join(check_words(c.id, c.text) for c in case.finding.next_checks[_MOST_CHECKS:])
        out.append(b.small(f"Worth less for their time: {rest}."))
    return out


def _check(c: Check, case: Case, show: Show) -> tuple[str, str]:
    """What to do, and what it costs and brings; a check that saves nothing by itself makes the mechanism surer."""
    title = check_words(c.id, c.text)
    worth = [f"{c.minutes:g} min", f"expected information {c.gain_bits:.2f} bit"]
    if not c.gain_bits and not c.saving:  # to look again at what clashes tells nothing new
        worth = worth[:1]
    elif c.saving < _LEAST_SAVING:
        worth.append("makes the mechanism surer")
    elif show.purpose == "warranty":
        worth.append(f"expected saving {units.money(c.saving, case.finding.outcome.currency)}")
    return title[:1].upper() + title[1:], " · ".join(worth)
