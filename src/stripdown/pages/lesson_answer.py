"""The end of a lesson: answer, score, chain, wrong conclusions, the heads left on, the letter to the site."""

from stripdown.figures import chain as chain_figure
from stripdown.figures.lesson import chain_on_machine
from stripdown.figures.levels import check_words, clash_words, seen_words
from stripdown.figures.words import chance_words, finding_words
from stripdown.lesson import NOT_DECIDED, Lesson, points
from stripdown.pages import blocks as b
from stripdown.pages import site
from stripdown.pages.lesson_station import named
from stripdown.pages.outcome import of_costs
from stripdown.pages.show import Show
from stripdown.pages.status import STATUS
from stripdown.pages.units import in_words, money, number
from stripdown.reasoning.model import Finding
from stripdown.vocabulary import label, words

SURE = (5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 99)
"""How sure a class may say it is, of 100."""
HOW_SCORED = (
    "Points are bits over knowing nothing. Sure and right earns most, sure and wrong costs most, and only what you "
    "really believe pays best in the long run. The last guess before the answer counts; the others show how the class "
    "learned."
)


def answer(lesson: Lesson, show: Show) -> list[b.Block]:
    """All that is shown once the last guess is written down."""
    f = lesson.case.finding
    mark, level, meaning = STATUS[f.status]
    out = [b.banner(f.status.upper(), mark, level, b.sentence(named(lesson.answer)).rstrip("."), meaning)]
    out += _undecided(lesson, show) + _score(lesson) + _chain(lesson) + _wrongs(lesson) + _separated(lesson)
    out += _heads_on(lesson)
    out.append(b.heading("The letter to the site"))
    return out + site.corrections(lesson.case, show)


def _undecided(lesson: Lesson, show: Show) -> list[b.Block]:
    f = lesson.case.finding
    if f.status not in ("open", "conflicting"):
        return []
    near = "; ".join(f"{label(s.id)} ({chance_words(s.probability or 0.0)})" for s in f.first[:4])
    out = [b.para("The right answer is that this record does not say. Nearest: ", near, ".")]
    if f.conflict is not None:
        clash = in_words(clash_words(lesson.case), show.system)
        why = f" {in_words(f.conflict.why, show.system)}." if f.conflict.why else ""
        out.append(b.para(b.strong("These do not go together: "), f"{clash}.{why} Look at them again."))
    if f.next_checks:
        looks = "; ".join(f"{check_words(c.id, c.text)} ({c.minutes:g} min)" for c in f.next_checks[:3])
        out.append(b.para(b.strong("What would decide: "), f"{looks}. Their cautions come first."))
    return out


def score_table() -> b.Block:
    """What each confidence earns, right and wrong."""
    rows = [[str(s), earned(points(s / 100, right=True)), earned(points(s / 100, right=False))] for s in SURE]
    return b.table("Points by how sure the class was", (("Sure, 0 to 100", 1), ("Right", 1), ("Wrong", 1)), rows, "rrr")


def earned(bits: float) -> str:
    """Points with two decimals and a sign."""
    return f"{bits:+.2f}".replace("-", "−")


def _score(lesson: Lesson) -> list[b.Block]:
    """The table to read points from, and what the record's own odds would have scored after each station."""
    out = [b.heading("How the class is scored"), b.para(HOW_SCORED), score_table()]
    if lesson.answer != NOT_DECIDED:
        rows = [
            [r.station.title, chance_words(next(s.probability or 0.0 for s in r.after if s.id == lesson.answer))]
            for r in lesson.reveals
            if r.looked
        ]
        caption = f"To compare with: what the findings gave {label(lesson.answer)} after each station"
        out.append(b.table(caption, (("After", 3), ("Probability", 1)), rows, "lr"))
    return out


def _chain(lesson: Lesson) -> list[b.Block]:
    if lesson.answer == NOT_DECIDED or not lesson.case.finding.chain:
        return []
    figures = b.figure(chain_figure.chain(lesson.case)) + b.figure(chain_on_machine(lesson.case))
    return [b.heading("The chain, from cause to failed part"), *figures]


def _separated(lesson: Lesson) -> list[b.Block]:
    out: list[b.Block] = []
    s = lesson.separated
    if s is not None and lesson.answer != NOT_DECIDED:
        factor = number(10 ** (s.decibans / 10), 2)
        text = f"“{finding_words(s.why)}” told {label(lesson.answer)} and {label(s.mechanism)} apart: odds × {factor}."
        out.append(b.para(b.strong("The finding that separated the suspects: "), text))
    odd = "; ".join(seen_words(x, lesson.case.record.observations) for x in lesson.case.finding.unexplained)
    if odd:
        out.append(b.para(b.strong("Does not fit, and stays unexplained: "), f"{odd}."))
    return out


def _wrongs(lesson: Lesson) -> list[b.Block]:
    if not lesson.tempted:
        return []
    rows = [
        [
            f"“{t.wrong.says}”",
            finding_words(t.refuted_by) if t.refuted_by else "nothing in this record",
            t.wrong.why,
        ]
        for t in lesson.tempted
    ]
    columns = (("Tempting and wrong", 2.4), ("Refuted by", 2.2), ("What to ask instead", 4))
    return [b.table("Wrong conclusions that this case tempts to", columns, rows)]


def _heads_on(lesson: Lesson) -> list[b.Block]:
    h = lesson.heads_on
    currency = lesson.case.finding.outcome.currency
    rows = [
        _concluded("From complaint to oil, heads on", h.before_heads),
        _concluded("The same, and the site asked too", h.with_site),
        _concluded("As it was done, heads off", lesson.case.finding),
    ]
    columns = (("What was known", 2.6), ("First mechanism", 2.4), ("Cause to correct", 3), ("What to do", 2.2))
    out = [
        b.heading("Had the heads stayed on"),
        b.table("What would have been concluded", columns, rows),
        of_costs(lesson.case),
    ]
    if not h.kept_back:
        out.append(b.para("Nothing in this record came from under the heads: they did stay on."))
    out.append(
        b.para(
            b.strong("What the next unit would have cost: "),
            f"{money(h.next_unit, currency)} for one more compressor and its change-over. A first mechanism that is "
            f"missed is reckoned at {money(h.missed, currency)}: the next unit lost, times how often that happens. "
            f"Chance of missing it with the heads on: {_missed(lesson)}.",
        )
    )
    return out


def _missed(lesson: Lesson) -> str:
    if lesson.answer == NOT_DECIDED:
        return "not known, since nothing decides this record"
    shares = next(s.probability or 0.0 for s in lesson.heads_on.before_heads.first if s.id == lesson.answer)
    return f"{chance_words(1.0 - shares)}, or {_expected(lesson, shares)} a case"


def _expected(lesson: Lesson, share: float) -> str:
    return money((1.0 - share) * lesson.heads_on.missed, lesson.case.finding.outcome.currency)


def _concluded(what: str, f: Finding) -> list[str | b.Block]:
    mark, level, _ = STATUS[f.status]
    top = f.first[0]
    cause = f.causes[0] if f.causes else None
    named_cause = "" if cause is None else f"{words(cause.id)} ({chance_words(cause.probability or 0.0)})"
    return [
        what,
        b.cell(f"{label(top.id)} {chance_words(top.probability or 0.0)}", mark=mark, level=level, note=f.status),
        named_cause,
        b.cell(label(f.outcome.id), note=f"expected cost {money(f.outcome.expected_cost, f.outcome.currency)}"),
    ]
