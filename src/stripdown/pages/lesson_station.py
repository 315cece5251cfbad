"""One station of a lesson as blocks: what was found, then how it moved the odds."""

from stripdown.figures.lesson import moved
from stripdown.figures.levels import to_look_at
from stripdown.figures.readings import name
from stripdown.figures.words import (
    EXTENT_WORDS,
    EXTENTS,
    VERDICTS,
    chance_words,
    finding_words,
    strength,
    verdict_words,
)
from stripdown.knowledge.lesson import teaching
from stripdown.lesson import NOT_DECIDED, Lesson, Reveal
from stripdown.lesson.model import Move, NextLook, Shift, Tempted
from stripdown.limits.model import Judged
from stripdown.pages import blocks as b
from stripdown.pages import photos, units
from stripdown.pages.case_page import life
from stripdown.pages.show import Show
from stripdown.record.model import Observation
from stripdown.vocabulary import label, words

_LEVEL = {"heavy": "bad", "slight": "warn", "none": "good", "within": "good", "outside": "bad", "open": "warn"}
_STATED_GOOD = ("crank.turns_freely", "pumping.pumps")
_MOST_MOVES = 8
_MOST_PHOTOS = 6
_WORTH_A_LOOK = 0.01
_POSSIBLE = 0.05


def found(lesson: Lesson, reveal: Reveal, show: Show) -> list[b.Block]:
    """Cautions, where one looks, and what this record holds of it; then the call for a guess."""
    out: list[b.Block] = []
    cautions = list(dict.fromkeys(s.caution for s in reveal.steps))
    if cautions:
        out.append(b.caution(cautions))
    out.append(b.para(reveal.station.looks))
    if reveal.number == 1:
        out += complaint(lesson, show)
    if reveal.observations:
        rows = [_seen(o) for o in sorted(reveal.observations, key=lambda o: o.extent == "none")]
        out.append(b.table("Found", (("Part", 2), ("Looked for", 2.2), ("Extent", 1.2), ("Where, note", 3.4)), rows))
    if reveal.readings:
        rows = [_read(r, show) for r in reveal.readings]
        columns = (("Measured", 3), ("As read", 1.5), ("Limit", 2), ("Verdict", 1.6))
        out.append(b.table("Measured", columns, rows))
        if any(r.verdict == "open" for r in reveal.readings):
            out.append(b.small("Undecided: neither within nor outside with 95 %."))
    out += _photos(lesson, reveal)
    if reveal.station.id == "site":
        out += [b.quote(s.by or "not named", s.text) for s in lesson.case.record.statements]
    if not reveal.looked:
        out.append(b.warning("NOT LOOKED AT", "The record says nothing of this station: nobody knows it to be sound."))
        return out
    out.append(b.para(b.strong("Ask: "), " ".join(reveal.station.asks)))
    line = "Write it down, with how sure you are from 0 to 100, before anybody looks on."
    out.append(b.banner("YOUR GUESS", "?", "warn", "Which came first?", line))
    return out


def complaint(lesson: Lesson, show: Show) -> list[b.Block]:
    """The claim as it came: the machine, its life and what was reported."""
    c = lesson.complaint
    out = [b.facts([("Compressor", f"{c.unit.model}, serial {c.unit.serial}"), *life(c.unit, c.history, show)])]
    if c.history.reported:
        out.append(b.quote("complaint, as reported", c.history.reported))
    return out


def _seen(o: Observation) -> list[str | b.Block]:
    cylinders = f"cyl. {', '.join(str(c) for c in o.cylinders)}" if o.cylinders else ""
    place = "; ".join(x for x in (cylinders, o.where or "") if x)
    word, mark, level = EXTENT_WORDS[o.extent], EXTENTS[o.extent], _LEVEL.get(o.extent, "")
    if o.finding in _STATED_GOOD:
        word, mark, level = "yes", EXTENTS["none"], "good"
    about = b.cell(place, note=o.note or "") if place else o.note or ""
    return [label(o.part), label(o.condition), b.cell(word, mark=mark, level=level), about]


def _read(r: Judged, show: Show) -> list[str | b.Block]:
    value = r.value if isinstance(r.value, str) else f"{units.number(r.value, 6)} {r.unit}"
    low, high = r.limits()
    known = low is not None or high is not None
    limit = units.limits(low, high, r.judged_unit or r.unit, show.system, r.quantity) if known else "–"
    chance = "" if r.probability_within is None else f"{chance_words(r.probability_within)} within"
    verdict = b.cell(verdict_words(r.verdict), mark=VERDICTS[r.verdict], level=_LEVEL.get(r.verdict, ""), note=chance)
    return [b.cell(name(r), note="" if r.verdict == "within" else r.remark or ""), value, limit, verdict]


def _photos(lesson: Lesson, reveal: Reveal) -> list[b.Block]:
    wanted = {p: f"{label(o.finding)} ({EXTENT_WORDS[o.extent]})" for o in reveal.observations for p in o.photos}
    folder = lesson.case.record.folder
    items = [
        photos.load(folder, p)._asdict() | {"caption": caption, "name": p}
        for p, caption in list(wanted.items())[:_MOST_PHOTOS]
    ]
    return [{"kind": "photos", "items": items}] if items else []


def odds(lesson: Lesson, reveal: Reveal, show: Show) -> list[b.Block]:
    """How each finding moved the odds and why, what is still possible, what next, which conclusions tempt."""
    out: list[b.Block] = []
    telling = sorted((m for m in reveal.moves if m.helped or m.hurt), key=lambda m: -m.size)
    if telling:
        columns = (("Finding", 2.4), ("Speaks most for", 3.4), ("Speaks most against", 3.4))
        caption = "What each finding did, given all that came before it"
        out.append(b.table(caption, columns, [_move(m) for m in telling[:_MOST_MOVES]]))
    little = [finding_words(m.finding) for m in (*telling[_MOST_MOVES:], *(m for m in reveal.moves if not m.size))]
    if little:
        out.append(b.small(f"Moved little: {'; '.join(little)}."))
    elif not telling:
        out.append(b.para("Nothing moved here. The odds below rest on what was known before."))
    out += b.figure(moved(reveal.before, reveal.after))
    out.append(_possible(reveal))
    out.append(_next(reveal))
    out += _tempting(reveal)
    out.append(b.para(b.strong("Ask: "), " ".join(teaching().asks)))
    return out


def _move(m: Move) -> list[str | b.Block]:
    return [b.cell(finding_words(m.finding)), _shift(m.helped), _shift(m.hurt)]


def _shift(s: Shift | None) -> str | b.Block:
    if s is None:
        return "–"
    factor = 10 ** (abs(s.decibans) / 10)
    times = f"odds {'×' if s.decibans > 0 else '÷'} {'over 1,000' if factor > 1000 else units.number(factor, 2)}"
    said = f"{label(s.mechanism)}: {strength(s.decibans)}, {times}"
    return b.cell(said, note=b.sentence(s.why))


def _possible(reveal: Reveal) -> b.Block:
    alive = [s for s in reveal.after if (s.probability or 0.0) >= _POSSIBLE]
    was = {s.id for s in reveal.before if (s.probability or 0.0) >= _POSSIBLE}
    told = "; ".join(f"{label(s.id)} ({chance_words(s.probability or 0.0)})" for s in alive)
    gone = [label(m) for m in sorted(was - {s.id for s in alive})]
    ruled = f" Fell below 5 % here: {', '.join(gone)}." if gone else ""
    return b.para(b.strong("Still possible: "), f"{told or 'many, each with less than 5 %'}.{ruled}")


def _next(reveal: Reveal) -> b.Block:
    """The look that tells most a minute, and why it is not the dearest one."""
    best, dear = reveal.best, reveal.dearest
    if best is None or dear is None or best.gain_bits < _WORTH_A_LOOK:
        return b.para(b.strong("What next: "), "no look that is still possible would tell much about what came first.")
    runs = [b.strong("What next: "), f"{_look(best)}, the most for its minutes. "]
    if dear.step == best.step:
        return b.para(*runs, "It is the dearest look left as well: nothing cheaper tells more a minute.")
    times = (best.gain_bits / best.minutes) / (dear.gain_bits / dear.minutes) if dear.gain_bits > 0 else 0.0
    less = f", {units.number(times, 2)} times less a minute" if times >= 1.05 else ""
    return b.para(
        *runs,
        b.strong("Why not the dearest: "),
        f"{_look(dear)}{less}. Cheap before dear, and what a later step would spoil before that step.",
    )


def _look(look: NextLook) -> str:
    return f"{look.step} ({to_look_at(look.finding)}): {look.minutes:g} min for {look.gain_bits:.2f} bit"


def _tempting(reveal: Reveal) -> list[b.Block]:
    """Conclusions that tempt from here on, and those that a finding of this station takes back."""
    out: list[b.Block] = []
    for t in reveal.tempts:
        if t.refuted_at != reveal.number:
            by = ", ".join(finding_words(f) for f in t.by)
            out.append(b.warning("TEMPTING", f"“{t.wrong.says}” (because of: {by}). {t.wrong.why}"))
    out += [b.warning("WRONG CONCLUSION", taken_back(t)) for t in reveal.refutes]
    return out


def taken_back(t: Tempted) -> str:
    """The conclusion, the finding that refutes it, and the lesson in it."""
    by = finding_words(t.refuted_by) if t.refuted_by else "nothing in this record"
    return f"“{t.wrong.says}” Refuted by: {by}. {t.wrong.why}"


def named(answer: str) -> str:
    """The answer in words."""
    return "not decided" if answer == NOT_DECIDED else f"{label(answer)}: {words(answer)}"
