"""TOML files of this room → `Knowledge`, every problem of every file at once with file and line."""

import hashlib
import itertools
import json
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from stripdown import vocabulary
from stripdown.knowledge import model
from stripdown.knowledge.model import (
    Action,
    Adjust,
    Cause,
    Disposition,
    FailedWhen,
    Finding,
    Knowledge,
    Link,
    Prior,
    ReadingMap,
    State,
    Step,
    When,
)

FOLDER = Path(__file__).resolve().parent
HEAVY_OF_SHOWN = 0.8
"""Share of heavy among what a state shows, where a link does not say."""
SOUND_LEVELS = ("slight", "heavy")


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One thing wrong with the knowledge."""

    file: str
    line: int
    what: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.what}"


class KnowledgeError(ValueError):
    """Knowledge that cannot be reasoned with; `problems` lists everything that is wrong."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(p) for p in problems))


def read_files(own: Path | None = None) -> tuple[dict[str, Any], dict[str, str]]:
    """The raw tables of all files, an own file (as `learn` writes it) laid over ours by id, and the text of each for
    line numbers."""
    raw: dict[str, Any] = {}
    texts: dict[str, str] = {}
    names = ["mechanisms", "states", "causes", "history", "readings", "checks", "outcomes", "sources"]
    paths = [FOLDER / f"{n}.toml" for n in names] + sorted((FOLDER / "findings").glob("*.toml"))
    for path in paths:
        name = path.relative_to(FOLDER).as_posix()
        texts[name] = path.read_text(encoding="utf-8")
        raw[name] = tomllib.loads(texts[name])
    if own is not None:
        _lay_over(own, raw, texts)
    return raw, texts


def _lay_over(own: Path, raw: dict[str, Any], texts: dict[str, str]) -> None:
    try:
        texts[str(own)] = own.read_text(encoding="utf-8")
        mine = tomllib.loads(texts[str(own)])
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise KnowledgeError([Problem(str(own), 0, f"cannot be read: {error}")]) from None
    unknown = set(mine) - {"mechanisms", "state", "cause", "finding"}
    if unknown:
        raise KnowledgeError(
            [Problem(str(own), 1, f"unknown tables {sorted(unknown)}: mechanisms, state, cause, finding can be given")]
        )
    raw["mechanisms.toml"] |= mine.get("mechanisms", {})
    for kind, files in (
        ("state", ["states.toml"]),
        ("cause", ["causes.toml"]),
        ("finding", [n for n in raw if n.startswith("findings/")]),
    ):
        given = {entry.get("id"): entry for entry in mine.get(kind, [])}
        for name in files:
            raw[name][kind] = [given.pop(entry["id"], entry) for entry in raw[name][kind]]
        raw[files[0]][kind] += list(given.values())


def load(own: Path | None = None) -> Knowledge:
    """The knowledge shipped with the program, `own` laid over it; raises KnowledgeError with every problem."""
    raw, texts = read_files(own)
    builder = _Builder(raw, texts)
    knowledge = builder.build()
    if builder.problems:
        raise KnowledgeError(sorted(set(builder.problems)))
    return knowledge


class _Builder:
    def __init__(self, raw: dict[str, Any], texts: dict[str, str]) -> None:
        self.raw = raw
        self.texts = texts
        self.problems: list[Problem] = []
        self.sources: Mapping[str, str] = raw["sources.toml"]
        self.mechanisms = set(vocabulary.mechanisms())
        self.state_ids = {s.get("id") for s in raw["states.toml"].get("state", [])}
        self.cause_ids = set(vocabulary.causes())

    def problem(self, file: str, near: str, what: str) -> None:
        lines = self.texts[file].splitlines()
        line = next((i for i, text in enumerate(lines, 1) if near and near in text), 0)
        self.problems.append(Problem(file, line, what))

    def build(self) -> Knowledge:
        priors, prior_adjusts, part_winding = self._mechanisms()
        causes, cause_adjusts, actions = self._causes()
        findings = {f.id: f for f in self._findings()}
        states = tuple(self._states())
        self._reached(findings)
        self._acyclic(states)
        history = self.raw["history.toml"]["failed_when"]
        outcomes = dict(self.raw["outcomes.toml"])
        groups = {k: tuple(v) for k, v in outcomes.pop("groups").items()}
        canonical = json.dumps(self.raw, sort_keys=True, default=str).encode()
        return Knowledge(
            priors=priors,
            prior_adjusts=prior_adjusts,
            part_winding_share=part_winding,
            states=states,
            causes=causes,
            cause_adjusts=cause_adjusts,
            actions=actions,
            findings=findings,
            failed_when=FailedWhen(
                any=tuple(history["any"]),
                by={m: tuple(history[m]) for m in history if m in self.mechanisms},
                long_stop_hours=history["long_stop_hours"],
            ),
            readings=tuple(self._reading_maps(findings)),
            steps=tuple(
                Step(
                    s["id"],
                    s["title"],
                    s["text"],
                    s["minutes"],
                    s["caution"],
                    tuple(s["parts"]),
                    tuple(s["readings"]),
                    tuple(s["after"]),
                    tuple(s["until"]),
                )
                for s in self.raw["checks.toml"]["step"]
            ),
            general_caution=self.raw["checks.toml"]["general"]["caution"],
            dispositions={
                k: Disposition(
                    k,
                    tuple(v.get("needs", ())),
                    tuple(v.get("sound", ())),
                    tuple(v.get("found", ())),
                    tuple(v.get("bars", ())),
                    tuple(v.get("risk", ())),
                    v.get("site", False),
                    v["why"],
                )
                for k, v in outcomes.items()
            },
            groups=groups,
            sources=self.sources,
            digest="sha256:" + hashlib.sha256(canonical).hexdigest(),
        )

    def _mechanisms(self) -> tuple[dict[str, Prior], tuple[Adjust, ...], float]:
        file = "mechanisms.toml"
        raw = self.raw[file]
        priors = {}
        for mechanism in vocabulary.mechanisms():
            entry = raw.get(mechanism)
            if entry is None:
                self.problem(file, "", f"{mechanism} has no share")
                continue
            self._why(file, f"[{mechanism}]", entry)
            priors[mechanism] = Prior(mechanism, tuple(entry["desk"]), tuple(entry["rebuilder"]), tuple(entry["hours"]))
        for key in set(raw) - self.mechanisms - {"adjust", "part_winding"}:
            self.problem(file, f"[{key}]", f"{key} is no mechanism of the vocabulary")
        adjusts = tuple(
            Adjust(a["mechanism"], self._when(file, a), a["factor"], a["why"], a["source"])
            for a in raw.get("adjust", [])
        )
        return priors, adjusts, float(raw["part_winding"]["half_winding"])

    def _causes(self) -> tuple[dict[str, Cause], tuple[Adjust, ...], tuple[Action, ...]]:
        file = "causes.toml"
        raw = self.raw[file]
        causes = {}
        for entry in raw["cause"]:
            near = f'id = "{entry["id"]}"'
            if entry["id"] not in self.cause_ids:
                self.problem(file, near, f"{entry['id']} is no cause of the vocabulary")
            if entry["liability"] not in vocabulary.liabilities():
                self.problem(file, near, f"{entry['liability']} is no liability of the vocabulary")
            feeds = []
            for feed in entry["feeds"]:
                if feed["mechanism"] not in self.mechanisms:
                    self.problem(file, near, f"{entry['id']} feeds {feed['mechanism']}, which is no mechanism")
                self._probability(file, near, feed["share"])
                feeds.append((feed["mechanism"], float(feed["share"]), self._when(file, feed)))
            causes[entry["id"]] = Cause(entry["id"], entry["liability"], entry["correction"], tuple(feeds))
        for missing in self.cause_ids - set(causes):
            self.problem(file, "", f"cause {missing} of the vocabulary is missing")
        adjusts = tuple(
            Adjust(a.get("cause") or a["liability"], self._when(file, a), a["odds"], a["why"], a["source"])
            for a in raw.get("adjust", [])
        )
        actions = tuple(Action(a["state"], a["when_at_least"], a["text"]) for a in raw.get("action", []))
        return causes, adjusts, actions

    def _states(self) -> Iterator[State]:
        file = "states.toml"
        for entry in self.raw[file]["state"]:
            near = f'id = "{entry["id"]}"'
            self._probability(file, near, entry["otherwise"])
            links = tuple(
                Link(
                    self._parents(file, near, x),
                    (float(x["chance"]),),
                    self._when(file, x),
                    x.get("why", ""),
                    x.get("source", ""),
                )
                for x in entry["links"]
            )
            for x, link in zip(entry["links"], links, strict=True):
                self._why(file, near, x)
                self._probability(file, near, link.shows[0])
            yield State(entry["id"], entry["kind"], float(entry["otherwise"]), links)

    def _findings(self) -> Iterator[Finding]:
        known = {f"{p}.{c}" for p, conditions in vocabulary.parts().items() for c in conditions}
        for file in self.raw:
            for entry in self.raw[file].get("finding", []):
                near = f'id = "{entry["id"]}"'
                if file not in _NOT_PARTS and entry["id"] not in known | {
                    "assembly.part_missing_or_wrong",
                    "oil_drained.low",
                }:
                    self.problem(file, near, f"{entry['id']} is no part and condition of the vocabulary")
                yield self._finding(file, near, entry)

    def _finding(self, file: str, near: str, entry: Mapping[str, Any]) -> Finding:
        otherwise = _levels(entry["otherwise"], entry.get("otherwise_heavy"), entry)
        links = []
        for x in entry["links"]:
            self._why(file, near, x)
            shows = _levels(x["shows"], x.get("heavy", HEAVY_OF_SHOWN), entry)
            self._levels_fit(file, near, str(x["from"]), shows, otherwise)
            links.append(Link(self._parents(file, near, x), shows, self._when(file, x), x["why"], x["source"]))
        if not links and not entry.get("times"):
            self.problem(file, near, f"no link reaches {entry['id']}")
        if isinstance(entry["otherwise"], list):
            levels = tuple(f"tier {i}" for i in range(1, len(otherwise) + 1))
        else:
            levels = ("present",) if entry.get("graded") is False else SOUND_LEVELS
        return Finding(
            entry["id"], levels, otherwise, tuple(links), entry.get("times", {}), entry.get("on_site", False)
        )

    def _levels_fit(
        self, file: str, near: str, parent: str, shows: tuple[float, ...], otherwise: tuple[float, ...]
    ) -> None:
        """A state may only make each level and all above it more frequent, and the lower ones no less than the
        higher."""
        acts = []
        for i in range(len(shows)):
            self._probability(file, near, shows[i])
            with_state, without = sum(shows[i:]), sum(otherwise[i:])
            if with_state < without:
                self.problem(file, near, f"{parent} shows it less often ({with_state:g}) than otherwise ({without:g})")
            acts.append(1.0 - (1.0 - with_state) / (1.0 - without))
        if any(high > low + 1e-9 for low, high in itertools.pairwise(acts)):
            self.problem(file, near, f"{parent}: too much of it heavy for how often it shows; lower `heavy`")

    def _reading_maps(self, findings: Mapping[str, Finding]) -> Iterator[ReadingMap]:
        file = "readings.toml"
        for entry in self.raw[file]["reading"]:
            near = f'rule = "{entry["rule"]}"'
            levels = tuple(entry.get("levels") or entry.get("above") or entry["below"])
            finding = findings.get(entry["finding"])
            if finding is None:
                self.problem(file, near, f"{entry['finding']} is no finding")
            elif len(levels) != len(finding.levels):
                self.problem(
                    file, near, f"{entry['finding']} has {len(finding.levels)} levels, {len(levels)} are given"
                )
            yield ReadingMap(
                entry["rule"], entry["side"], levels, entry["finding"], entry.get("at"), entry.get("instead_of")
            )

    def _parents(self, file: str, near: str, entry: Mapping[str, Any]) -> tuple[str, ...]:
        given = entry["from"]
        parents = (given,) if isinstance(given, str) else tuple(given)
        for parent in parents:
            bare = parent.removesuffix("!")
            if bare not in self.mechanisms | self.state_ids | self.cause_ids:
                self.problem(file, near, f"{bare} is no mechanism, state or cause")
            elif parent.endswith("!") and bare not in self.mechanisms:
                self.problem(file, near, f"{parent}: only a mechanism can be the first")
            elif bare in self.mechanisms - self.state_ids and not parent.endswith("!"):
                self.problem(file, near, f"{bare} never follows: write {bare}!")
        return parents

    def _when(self, file: str, entry: Mapping[str, Any]) -> When:
        when = {k: tuple(v) for k, v in entry.get("when", {}).items()}
        for key, values in when.items():
            allowed = {**model.CONTEXT, "mechanism": tuple(self.mechanisms)}.get(key, ())
            for value in set(values) - set(allowed):
                self.problem(
                    file,
                    f'"{value}"',
                    f"when {key} = {value}: {key} can be {', '.join(allowed) or 'nothing: unknown key'}",
                )
        return when

    def _why(self, file: str, near: str, entry: Mapping[str, Any]) -> None:
        if not entry.get("why"):
            self.problem(file, near, f"a link to {near[6:-1]} has no why")
        if entry.get("source") not in self.sources:
            self.problem(file, near, f"source {entry.get('source')!r} is not in sources.toml")

    def _probability(self, file: str, near: str, value: float) -> None:
        if not 0.0 <= value <= 1.0:
            self.problem(file, near, f"{value} is no probability (0 to 1)")

    def _reached(self, findings: Mapping[str, Finding]) -> None:
        for part, conditions in vocabulary.parts().items():
            for condition in conditions:
                node = finding_of(part, condition)
                if node not in findings:
                    self.problem("states.toml", "", f"no link reaches {part}.{condition}")

    def _acyclic(self, states: tuple[State, ...]) -> None:
        seen: set[str] = set()
        for state in states:
            for link in state.links:
                for parent in link.parents:
                    if parent in self.state_ids and parent not in seen:
                        self.problem(
                            "states.toml",
                            f'id = "{state.id}"',
                            f"{state.id} depends on {parent}, which stands below it: a cycle or a wrong order",
                        )
            seen.add(state.id)


_NOT_PARTS = {"findings/history.toml", "findings/readings.toml"}
_SAME = {"crank.turns_freely": "crank.will_not_turn", "pumping.pumps": "pumping.does_not_pump"}


def finding_of(part: str, condition: str) -> str:
    """The finding that an observation speaks of: missing and wrong parts are one, and so are the two sides of one
    question."""
    if condition in ("missing", "wrong_part"):
        return "assembly.part_missing_or_wrong"
    node = f"{part}.{condition}"
    return _SAME.get(node, node)


def _levels(total: Any, heavy: float | None, entry: Mapping[str, Any]) -> tuple[float, ...]:
    """Probability of each level above none."""
    if isinstance(total, list):
        return tuple(float(x) for x in total)
    if entry.get("graded") is False:
        return (float(total),)
    share = 0.5 if heavy is None else float(heavy)
    return (float(total) * (1.0 - share), float(total) * share)
