"""What the bench workbook says in HTML: finding so far, cautions, verdicts. Text from a record is escaped, always."""

import re
from collections.abc import Iterable, Sequence
from html import escape

from stripdown import vocabulary
from stripdown.bench.fluid import UnsupportedRefrigerantError, fluid_of
from stripdown.bench.fluid import names as refrigerants
from stripdown.figures.levels import check_words, clashing
from stripdown.figures.words import EXTENT_WORDS, EXTENTS, VERDICTS, chance_words, verdict_words
from stripdown.limits import Judged
from stripdown.pages import units
from stripdown.record import Fault, schema
from stripdown.record.text import closest
from stripdown.vocabulary import label
from stripdown.widgets import intake_draft as draft
from stripdown.widgets.intake import GENERAL, Intake
from stripdown.widgets.intake_photo import names
from stripdown.widgets.intake_way import Stand

_MOST = 3
UNSAID = "not known"
_WORDS = {
    "run_hours": "Run hours, h",
    "altitude": "Altitude, m",
    "hours_off": "Hours off before that start",
    "instruments": "Instruments, parted by ;",
    "reported": "Reported, as it came",
    "replaces": "Replaces serial",
    "log": "File of the site log",
    "voltage": "Plate voltage, V",
    "frequency": "Plate frequency, Hz",
    "current": "Plate current, A",
}
_IN_A_FIELD = re.compile(r'write \w+ = "…"( with (?P<what>.*))?')
_IN_A_FORM = {
    "write digits with a decimal point, without quotes or unit": "write digits alone, with a decimal point",
    "write it without decimal point or quotes": "write digits alone, without a decimal point",
    "write the number alone: the unit stands in `unit`": "write the number alone: its unit stands above",
    'over range is "open", at the floor "short"': "write digits, or open (over range), or short (the meter's floor)",
}
"""What would be right in a file → the same in words of a form."""
_SENTENCES = re.compile(r"(?<=\.) ")
_STATUS = {
    "established": "established",
    "likely": "likely",
    "open": "open: not decided",
    "conflicting": "the findings do not go together",
}


def caution(title: str, text: str, *, confirmed: bool) -> str:
    """A caution in its frame."""
    said = "Confirmed" if confirmed else "Read first, then confirm"
    return (
        f"<section class='sd-caution{' sd-confirmed' if confirmed else ''}'>"
        f"<h3>⚠ Caution: {escape(title)} <small>({said})</small></h3><p>{escape(text)}</p></section>"
    )


def caution_title(intake: Intake, caution_id: str) -> str:
    """'before anything', or the title of the step."""
    return "before anything" if caution_id == GENERAL else intake.way.steps[caution_id].title


def head(intake: Intake) -> str:
    """Claim, model, file, and whether everything is saved."""
    unit = draft.table_of(intake.content, "unit")
    model, serial = (draft.shown(unit.get(k)) or f"no {k} yet" for k in ("model", "serial"))
    saved = (
        f"<strong class='sd-bad'>■ NOT SAVED: {escape(intake.unsaved)}</strong>"
        if intake.unsaved
        else "<span class='sd-good'>● saved after every entry</span>"
    )
    claim = intake.content.get("claim", "no claim yet")
    return (
        f"<h2>Bench workbook: {escape(str(claim))}</h2><p>{escape(model)} · {escape(serial)} · "
        f"{escape(intake.path.name)} · {saved}</p>" + _told(intake)
    )


def _told(intake: Intake) -> str:
    return "".join(f"<p class='sd-warn'>◆ {escape(t)}</p>" for t in intake.told)


def title(section: str, name: str) -> str:
    """What a field is called: 'Run hours, h', 'Oil (alarms)'."""
    return _WORDS.get(name, label(name).capitalize()) + (" (alarms)" if section.endswith("alarms") else "")


def headline(intake: Intake) -> str:
    """The finding so far in one line; below it what was refused just now, for this stays in sight."""
    finding = intake.case.finding
    first = finding.first[0]
    refused = f"<p class='sd-bad'><b>■ Not done: {escape(intake.refused)}</b></p>" if intake.refused else ""
    without = ", not yet a record" if intake.faults else ""
    if intake.untouched:
        said = "Nothing was looked at or measured yet:"
        return f"<p class='sd-headline'>{said} <span class='sd-status'>no finding{without}</span></p>{refused}"
    return (
        f"<p class='sd-headline'><b>{chance_words(first.probability or 0.0)}</b> {escape(vocabulary.words(first.id))} "
        f"<span class='sd-status'>{_STATUS[finding.status]}{without}</span></p>{refused}"
    )


def live(intake: Intake) -> str:
    """Everything that stands beside the questions: finding, causes, outcome, next check, faults, progress."""
    finding = intake.case.finding
    parts = [faults(intake.faults), _refrigerant(intake), _conflict(intake), _next(intake)]
    if intake.untouched:
        return "".join(parts)
    parts += [
        "<h3>What failed first, so far</h3>",
        _shares([(s.id, s.probability or 0.0) for s in finding.first[:_MOST]]),
        "<h3>What brought it</h3>",
        _shares([(s.id, s.probability or 0.0) for s in finding.causes[:_MOST]]),
        f"<h3>What to do with it</h3><p>{escape(vocabulary.words(finding.outcome.id))}, expected cost "
        f"{escape(units.money(finding.outcome.expected_cost, finding.outcome.currency))}</p>",
    ]
    return "".join(parts)


def _refrigerant(intake: Intake) -> str:
    """A refrigerant of which no table is at hand, with the one that was probably meant."""
    name = draft.shown(draft.table_of(intake.content, "unit").get("refrigerant"))
    try:
        if name:
            fluid_of(name)
    except UnsupportedRefrigerantError:
        meant = closest(name, refrigerants(), 1)[0]
        said = f"{name}: no table of this refrigerant, so no superheat and no pressure ratio is judged"
        return f"<p class='sd-warn'>◆ {escape(said)}; did you mean {escape(meant)}?</p>"
    return ""


def _shares(shares: Sequence[tuple[str, float]]) -> str:
    rows = "".join(
        f"<tr><td><span class='sd-bar' style='width:{max(1, round(100 * p))}%'></span></td>"
        f"<td>{chance_words(p)}</td><td>{escape(vocabulary.words(i))}</td></tr>"
        for i, p in shares
    )
    return f"<table class='sd-shares' role='presentation'>{rows}</table>"


def _conflict(intake: Intake) -> str:
    if not intake.clashes:
        return ""
    steps = list(intake.way.steps)
    said = clashing(intake.case, [f for f, _ in intake.clashes])
    places = ["" if s is None else f", at step {steps.index(s.id) + 1}, {s.title}" for _, s in intake.clashes]
    items = "".join(
        f"<li><b>{escape(_sentence(what))}</b>{escape(where)}</li>" for what, where in zip(said, places, strict=True)
    )
    found = intake.case.finding.conflict
    why = f"{escape(found.why)}. " if found is not None and found.why else ""
    return (
        f"<section class='sd-conflict'><h3>◆ These findings do not go together</h3><p>{why}Look at them again before "
        f"anything is decided, and mend what was entered wrongly:</p><ul>{items}</ul></section>"
    )


def _next(intake: Intake) -> str:
    checks = intake.next_checks
    if not checks:
        said = "None tells enough for its minutes" if intake.case.finding.status == "established" else "None is known"
        return f"<h3>Next check</h3><p>{said}: go on step by step.</p>"
    best = checks[0]
    more = "".join(f"<li>{escape(_sentence(check_words(c.id, c.text)))}</li>" for c in checks[1:_MOST])
    return (
        f"<h3>Next check that tells most a minute</h3><p class='sd-warn'>⚠ {escape(best.caution)}</p>"
        f"<p><b>{escape(_sentence(check_words(best.id, best.text)))}</b>, {best.minutes:g} min, "
        f"{best.gain_bits:.2f} bit</p>" + (f"<p>Then:</p><ul>{more}</ul>" if more else "")
    )


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def faults(found: Iterable[Fault]) -> str:
    """What stands in the way of a record, and what would be right."""
    items = "".join(
        f"<li><b>{escape(_place(f.entry))}</b>: {escape(f.what)}; {escape(_fix(f.fix))}</li>" for f in found
    )
    if not items:
        return "<p class='sd-good'>● The record can be read as it stands.</p>"
    return f"<section class='sd-faults'><h3>■ To mend before it is a record</h3><ul>{items}</ul></section>"


def _place(entry: str) -> str:
    """Where a fault is: the title of its field, or the entry of a list in words."""
    section, _, name = entry.rpartition(".")
    if section in schema.SECTIONS and name in schema.SECTIONS[section]:
        return title(section, name)
    return entry.replace("_", " ") or "file"


def _fix(fix: str) -> str:
    """What would be right, in words of a form and not of a file."""
    if match := _IN_A_FIELD.fullmatch(fix):
        return f"fill in {match['what']}" if match["what"] else "fill in the field"
    return _IN_A_FORM.get(fix, fix)


def reading(judged: Sequence[Judged], wrong: Sequence[Fault], system: units.System) -> str:
    """What is to be said of one reading: faults, or value with uncertainty, limit and verdict by each rule."""
    if wrong:
        return "".join(f"<div class='sd-bad'>■ {escape(f.what)}; {escape(_fix(f.fix))}</div>" for f in wrong)
    remarks = dict.fromkeys(s for j in judged for s in _SENTENCES.split(j.remark or "") if s)
    said = f"<div><small>{escape(' '.join(remarks))}</small></div>" if remarks else ""
    return "".join(_verdict(j, system) for j in judged) + said


_CLASSES = {"within": "sd-good", "outside": "sd-bad", "open": "sd-warn", "no_limit": ""}


def _verdict(j: Judged, system: units.System) -> str:
    words = [f"{VERDICTS[j.verdict]} <b>{verdict_words(j.verdict)}</b>"]
    low, high = j.limits()
    if j.judged is not None:
        words.append(
            escape(
                units.measured(
                    j.judged,
                    j.judged_unit or "",
                    system,
                    uncertainty=j.judged_uncertainty,
                    quantity=j.quantity,
                    plus=low is not None and low < 0,
                )
            )
        )
    elif j.corrected is not None:
        c = j.corrected
        words.append(escape(units.measured(c.value, c.unit, system, uncertainty=c.uncertainty, quantity=j.quantity)))
    if low is not None or high is not None:
        words.append(f"limit {escape(units.limits(low, high, j.judged_unit or j.unit, system, j.quantity))}")
    if j.rule and j.rule != j.quantity:
        words.append(escape(label(j.rule)))
    return f"<div class='{_CLASSES[j.verdict]}'>{' · '.join(words)}</div>"


def others(said: Sequence[tuple[int | None, str]], cylinder: int | None) -> str:
    """What was answered for other cylinders: 'cyl. 2 ■ heavy'."""
    return ", ".join(
        f"{f'cyl. {c}' if c else 'all'} {EXTENTS.get(e, '?')} {EXTENT_WORDS.get(e, e)}"
        for c, e in said
        if c != cylinder
    )


def beside(content: draft.Content, key: draft.Key, *, opened: bool) -> str:
    """What opens the fields beside an answer, and what stands in them: '▷ Note, photo', '▼ noted, 2 photos'."""
    entry = draft.observation(content, *key) or {}
    photos = len(names(entry))
    held = ["noted"] if any(entry.get(k) for k in draft.DETAILS) else []
    held += [f"{photos} photo{'s' if photos > 1 else ''}"] if photos else []
    return f"{'▼' if opened else '▷'} {', '.join(held) or 'Note, photo'}"


def progress(stands: Sequence[Stand]) -> str:
    """How far the teardown is, step by step."""
    rows = "".join(
        f"<tr><td>{_mark(s)}</td><td>{escape(s.title)}</td><td>{s.answered} of {s.asked}</td>"
        f"<td>{escape('no longer possible after: ' + ', '.join(s.barred) if s.barred else '')}</td></tr>"
        for s in stands
    )
    columns = "".join(f"<th scope='col'>{c}</th>" for c in ("Done", "Step", "Answered", "Remark"))
    return f"<table class='sd-progress'><thead><tr>{columns}</tr></thead><tbody>{rows}</tbody></table>"


def _mark(stand: Stand) -> str:
    return "● all" if stand.answered == stand.asked else "◆ some" if stand.answered else "○ none"


def confirmed(intake: Intake) -> str:
    """Who confirmed what, as the record has it."""
    return "".join(
        f"<p class='sd-good'>● {escape(c.by or 'a person not named')}: {escape(vocabulary.words(c.first or ''))}</p>"
        for c in intake.case.record.confirmed
    )
