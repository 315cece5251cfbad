"""Why a finding speaks for a mechanism: the strongest path of links from the one to the other, in their own words."""

from functools import lru_cache

from stripdown.knowledge.model import Link, fits
from stripdown.reasoning.infer import FAILED_WHEN
from stripdown.reasoning.network import Network
from stripdown.vocabulary import label, words

Path = tuple[float, tuple[str, ...]]
"""How often the mechanism brings it this way, and the `why` of each link on it."""


def why(network: Network, mechanism: str, finding: str, *, there: bool, helped: bool) -> str:
    """Plain words for one shift; says so where no link joins the two."""
    name = "a sound machine" if mechanism == "no_fault" else label(mechanism)
    if finding == FAILED_WHEN:
        return f"{name} {'often' if helped else 'seldom'} fails at such a moment"
    path = _best(network, mechanism, finding)
    told = "; ".join(_lower(link) for link in path)
    if there and helped:
        return told or f"no link of its own, but {name} is one of the few left that it does not speak against"
    if there:
        return f"others bring it more often than {name} does" if told else f"{name} does not bring it"
    if helped:
        return f"missing, and {name} does not need it" if not told else f"{name} brings it less often than others do"
    return f"it would have been likely: {told}" if told else f"where {name} came first, more than that is usual"


def _lower(text: str) -> str:
    """The text as it stands inside a sentence; a first word in capitals stays."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def _best(network: Network, mechanism: str, finding: str) -> tuple[str, ...]:
    """The words along the strongest path, empty where there is none."""
    reach = _reach(network, mechanism)
    best: Path = (0.0, ())
    for link in network.knowledge.findings[finding].links:
        if fits(link.when, network.context):
            best = max(best, _onward(reach, mechanism, link, sum(link.shows)), key=lambda p: p[0])
    return best[1]


@lru_cache(maxsize=256)
def _reach(network: Network, mechanism: str) -> dict[str, Path]:
    """State or cause → the strongest path to it from the mechanism as the first one."""
    reach: dict[str, Path] = {mechanism: (1.0, ())}
    for cause in network.knowledge.causes.values():
        for fed, share, when in cause.feeds:
            if fed == mechanism and fits(when, network.context):
                reach[cause.id] = (share, (words(cause.id),))
    for state in network.knowledge.states:  # in an order in which no state stands before one it depends on
        for link in state.links:
            if state.id != mechanism and fits(link.when, network.context):
                path = _onward(reach, mechanism, link, link.shows[0])
                if path[0] > reach.get(state.id, (0.0, ()))[0]:
                    reach[state.id] = path
    return reach


def _onward(reach: dict[str, Path], mechanism: str, link: Link, shows: float) -> Path:
    """The path through one link: from whichever of its parents the mechanism reaches best, `!` only from itself."""
    parents = [p.removesuffix("!") for p in link.parents if not p.endswith("!") or p == f"{mechanism}!"]
    if len(parents) < len(link.parents):
        return 0.0, ()
    reached = [reach[p] for p in parents if p in reach]
    if not reached:
        return 0.0, ()
    chance, told = max(reached, key=lambda p: p[0])
    return chance * shows, (*told, link.why)
