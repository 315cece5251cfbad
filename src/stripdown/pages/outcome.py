"""What to do with the unit and on the site, and what that is expected to cost.

A page for the site says nothing of prices, of whose matter it is, or of what came from elsewhere: only what to do.
"""

from dataclasses import replace

from stripdown.case import Case
from stripdown.figures.levels import check_words, clash_words
from stripdown.figures.words import chance_words
from stripdown.pages import blocks as b
from stripdown.pages.show import Show
from stripdown.pages.units import in_words, money
from stripdown.vocabulary import label, words

_CORRECT_FROM = 0.15
_MOST_CAUSES = 3
_NEVER, _ALWAYS = 0.01, 0.99
_DECIDED = ("established", "likely")
_BEYOND = ("works_workmanship", "works_material", "age", "handling", "wrong_diagnosis")
"""Causes of which nothing can be put right on the site before power."""
_ON_SITE = {"fitting_workmanship": "joints, torques, gaskets and leads at the compressor"}
"""Cause that names whose work it was → what to look at."""
_ERRORS = (
    "Expected cost: the outcome itself, and what each error that it may turn out to be would cost, weighed by its "
    "probability; so that of a check can stand above the price of a new unit."
)


def sound(case: Case) -> bool:
    """Whether the unit goes back to work because nothing was found wrong with it."""
    f = case.finding
    return f.first[0].id == "no_fault" and f.status in _DECIDED and f.outcome.id == "return_to_service"


def by_table(case: Case) -> str:
    """Where the amounts come from."""
    if case.costs:
        return f"by your cost table {case.costs.rpartition(', ')[0]}"
    return "by the shipped cost table, whose amounts are invented; give your own with --costs"


def of_costs(case: Case) -> b.Block:
    """What an expected cost is made of, and where the amounts come from."""
    return b.small(f"{_ERRORS} Amounts {by_table(case)}.")


def cause_words(cause: str, show: Show) -> str:
    """A cause in words; for the site without whose work it was."""
    return _ON_SITE.get(cause, words(cause)) if show.purpose == "site" else words(cause)


def told(cause: str, show: Show) -> bool:
    """Whether a page names the cause: for the site only what can be put right there."""
    return show.purpose == "warranty" or cause not in _BEYOND


def to_correct(case: Case, show: Show) -> list[tuple[str, str]]:
    """(cause, what to put right); of a wrong diagnosis only where the unit is sound, and for the site only what can be
    put right there."""
    named = [(c.cause, c.text) for c in case.finding.corrections if c.cause is not None]
    named = [(cause, text) for cause, text in named if cause != "wrong_diagnosis" or sound(case)]
    return [(cause, text) for cause, text in named if told(cause, show)]


def for_site(case: Case) -> Case:
    """The case with a chain that starts at what can be put right on the site, in words of the site."""
    chain = tuple(replace(s, text=_ON_SITE.get(s.node, s.text)) for s in case.finding.chain if s.node not in _BEYOND)
    return replace(case, finding=replace(case.finding, chain=chain))


def to_do(case: Case, show: Show) -> list[list[b.Run]]:
    """What to do with this unit and on the site, in order."""
    f, o, site = case.finding, case.finding.outcome, show.purpose == "site"
    cost = "" if site else f", expected cost {money(o.expected_cost, o.currency)}"
    todo: list[list[b.Run]] = [["This unit: ", b.strong(label(o.id)), f" ({words(o.id)}){cost}."]]
    if o.id == "inspect_further" and f.next_checks and f.conflict is None:
        todo[0].append(f" First: {check_words(f.next_checks[0].id, f.next_checks[0].text)}.")
    likely = [c for c in f.causes if (c.probability or 0.0) >= _CORRECT_FROM]
    if f.conflict is not None:  # a bridged protection is put right whatever else is found
        likely = [c for c in likely if c.id == "protection_defeated"]
        clash = in_words(clash_words(case), show.system)
        todo.append(
            [f"Look again at the findings that do not go together ({clash}), before anything is corrected by them."]
        )
    if sound(case):
        passed = "Tested here and passed" if site else "Tell the site what was tested and passed"
        todo.append([f"{passed}: the reason for the complaint lies outside the compressor."])
    there = [c for c in likely if c.id not in _BEYOND]
    for c in there[:_MOST_CAUSES]:
        chance = f" ({chance_words(c.probability or 0.0)})."
        todo.append(["On the site, before power: look for and put right ", b.strong(cause_words(c.id, show)), chance])
    for c in likely:
        if c.id in _BEYOND and c.id != "wrong_diagnosis" and told(c.id, show):
            todo.append(["Beyond the site: ", b.strong(words(c.id)), f" ({chance_words(c.probability or 0.0)})."])
    if not there and not sound(case) and f.conflict is None:
        before = "; the checks below come before any correction" if f.next_checks else ""
        todo.append([f"On the site: no cause to put right there reaches 15 %{before}."])
    todo.append(["A named person confirms or rejects this proposal; nobody acts on it alone."])
    return todo


def outcomes(case: Case, show: Show) -> list[b.Block]:
    """The outcomes that the record allows, why, and what their costs are made of."""
    o = case.finding.outcome
    why = [w for w in o.why if w != words(o.id)]
    reasons = [b.small("Why: " + "; ".join(why) + ".")] if why else []
    ids = [o.id, *(x.id for x in o.alternatives)]
    marks = ["▶", *("" for _ in o.alternatives)]
    named = [(b.cell(label(x), mark=mark), words(x)) for x, mark in zip(ids, marks, strict=True)]
    allowed = "Outcomes that the record allows; ▶ the one "
    if show.purpose == "site":
        return [b.table(f"{allowed}proposed", (("Outcome", 2), ("Meaning", 4)), named), *reasons]
    costs = [money(x, o.currency) for x in (o.expected_cost, *(x.expected_cost for x in o.alternatives))]
    rows = [(*row, cost) for row, cost in zip(named, costs, strict=True)]
    columns = (("Outcome", 2), ("Meaning", 4), ("Expected cost", 1.3))
    return [
        b.table(f"{allowed}of least expected cost{_break_even(o.break_even)}", columns, rows, "llr"),
        of_costs(case),
        *reasons,
    ]


def _break_even(probability: float | None) -> str:
    """Where repair of the part alone stops paying."""
    if probability is None:
        return ""
    if probability >= _ALWAYS:
        return "; repair of the part alone pays whatever damage is hidden"
    if probability <= _NEVER:
        return "; repair of the part alone does not pay"
    return f"; repair of the part alone stops paying above {chance_words(probability)} probability of hidden damage"
