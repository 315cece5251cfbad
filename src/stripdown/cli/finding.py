"""The finding of one record in words for a terminal: loaded once there is one, so that the start need not wait."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from stripdown import vocabulary
from stripdown.figures.levels import check_words
from stripdown.figures.words import chance_words, finding_words, read_open

_SHOWN = 3
_WORKSHOP = "Authorised workshop only"
_WORTH_NAMING = 0.05
_NOBODY = "undetermined"
_INVENTED = " (amounts invented: give yours with --costs)"


def lines(result: Mapping[str, Any], *, own_costs: bool = False) -> Iterator[str]:
    """The finding of one record in a few plain lines."""
    claim = result["claim"] or "no claim"
    yield f"{claim}  {result['status']}  {result['file']}"
    if result["status"] == "rejected":
        for fault in result["faults"]:
            yield f"  fault    {fault['entry'] or 'file'}: {fault['what']}; {fault['fix']}"
        return
    first = result["first"][0]
    yield f"  first    {first['id']} {chance_words(first['probability'])}: {vocabulary.words(first['id'])}"
    yield f"  causes   {_listed(result['causes']) or 'none to name'}"
    for caution in result.get("cautions", ()):
        if caution.startswith(_WORKSHOP):
            yield f"  caution  {caution}"
    outcome = result["outcome"]
    yield (
        f"  outcome  {outcome['id']}: {vocabulary.words(outcome['id'])}, "
        f"expected cost {outcome['expected_cost']:.0f} {outcome['currency']}{'' if own_costs else _INVENTED}"
    )
    return_, failure = (chance_words(result["avoidable"][which]) for which in ("return", "failure"))
    whose = result["liability"][0]["id"]
    stands = ", once the finding is confirmed" if result["status"] in ("likely", "open") and whose != _NOBODY else ""
    yield f"  avoidable return {return_}, failure {failure}; liability {whose}{stands}"
    if result["conflict"]:
        opened = read_open((r["quantity"], r["between"], r["at"], r["value"]) for r in result["readings"])
        clash = ", ".join(finding_words(f, opened) for f in result["conflict"]["findings"])
        yield f"  conflict {clash} do not go together"
        if result["conflict"]["why"]:
            yield f"           {result['conflict']['why']}"
    for check in result.get("next_checks", ())[:1]:
        yield f"  next     caution: {check['caution']}" if check["caution"] else "  next     no special caution"
        told = check_words(check["id"], check["text"])
        yield f"           then {told[:1].lower()}{told[1:]}, {check['minutes']:.0f} min"


def _listed(shares: Sequence[Mapping[str, Any]]) -> str:
    named = [s for s in shares if s["probability"] >= _WORTH_NAMING][:_SHOWN]
    return ", ".join(f"{s['id']} {chance_words(s['probability'])}" for s in named)
