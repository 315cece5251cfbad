"""TOML files of this room → `Knowledge`, every problem of every file at once with file and line."""

import hashlib
import itertools
import json
from collections.abc import Iterable, Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import Any

from stripdown import vocabulary
from stripdown.knowledge import exclusions, model, references
from stripdown.knowledge.files import Files, KnowledgeError, meant, read_files
from stripdown.knowledge.model import (
    Action,
    Adjust,
    Cause,
    Disposition,
    Exclusion,
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

HEAVY_OF_SHOWN = 0.8
"""Share of heavy among what a state shows, where a link does not say."""
SOUND_LEVELS = ("slight", "heavy")
TWO_KINDS = ("mechanism", "damage")


def load(own: Path | None = None) -> Knowledge:
    """The knowledge shipped with the program, `own` laid over it; raises KnowledgeError with every problem."""
    files = read_files(own)
    knowledge = _Builder(files).build()
    if files.problems:
        raise KnowledgeError(files.problems)
    return knowledge


class _Builder:
    def __init__(self, files: Files) -> None:
        self.files = files
        self.raw = files.raw
        self.problem = files.problem
        self.sources: Mapping[str, str] = self.raw["sources.toml"]
        self.mechanisms = set(vocabulary.mechanisms())
        self.state_ids = {s["id"] for s in self.raw["states.toml"]["state"]}
        self.cause_ids = set(vocabulary.causes())

    def build(self) -> Knowledge:
        priors, prior_adjusts, part_winding = self._mechanisms()
        causes, cause_adjusts, actions = self._causes()
        findings = {f.id: f for f in self._findings()}
        states = tuple(self._states())
        history = self.raw["history.toml"]["failed_when"]
        outcomes = dict(self.raw["outcomes.toml"])
        groups = {k: tuple(v) for k, v in outcomes.pop("groups").items()}
        canonical = json.dumps(self.raw, sort_keys=True, default=str).encode()
        knowledge = Knowledge(
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
                    tuple(v.get("spares", ())),
                )
                for k, v in outcomes.items()
            },
            groups=groups,
            sources=self.sources,
            exclusions=tuple(self._exclusions(findings)),
            digest="sha256:" + hashlib.sha256(canonical).hexdigest(),
        )
        references.check(self.files, knowledge)
        return knowledge

    def _mechanisms(self) -> tuple[dict[str, Prior], tuple[Adjust, ...], float]:
        file = "mechanisms.toml"
        raw = self.raw[file]
        priors = {}
        for mechanism in vocabulary.mechanisms():
            entry = raw.get(mechanism)
            if entry is None:
                self.problem(file, "", f"{mechanism} has no share")
                continue
            near = f"{mechanism}]"
            self._why(file, near, mechanism, entry)
            for key in ("desk", "rebuilder", "hours"):
                for factor in entry[key]:
                    if factor < 0:
                        self.problem(file, near, f"{mechanism}: {key} holds {factor:g}; none can be below 0")
            priors[mechanism] = Prior(mechanism, tuple(entry["desk"]), tuple(entry["rebuilder"]), tuple(entry["hours"]))
        for key in set(raw) - self.mechanisms - {"adjust", "part_winding"}:
            self.problem(
                file, f"{key}]", f"{key} is no mechanism of the vocabulary{meant(key, sorted(self.mechanisms))}"
            )
        adjusts = tuple(
            Adjust(a["mechanism"], self._when(file, f'mechanism = "{a["mechanism"]}"', a), *_reason(a, "factor"))
            for a in raw.get("adjust", [])
        )
        return priors, adjusts, float(raw["part_winding"]["half_winding"])

    def _causes(self) -> tuple[dict[str, Cause], tuple[Adjust, ...], tuple[Action, ...]]:
        file = "causes.toml"
        raw = self.raw[file]
        causes = {}
        for entry in raw["cause"]:
            near = f'id = "{entry["id"]}"'
            self._known(file, near, entry["id"], "cause of the vocabulary", self.cause_ids)
            self._known(file, near, entry["liability"], "liability of the vocabulary", vocabulary.liabilities())
            feeds = []
            for feed in entry["feeds"]:
                self._known(file, near, feed["mechanism"], "mechanism", self.mechanisms)
                self._probability(file, near, feed["share"])
                feeds.append((feed["mechanism"], float(feed["share"]), self._when(file, near, feed)))
            causes[entry["id"]] = Cause(entry["id"], entry["liability"], entry["correction"], tuple(feeds))
        for missing in self.cause_ids - set(causes):
            self.problem(file, "", f"cause {missing} of the vocabulary is missing")
        adjusts = tuple(
            Adjust(a.get("cause") or a["liability"], self._when(file, "[[adjust]]", a), *_reason(a, "odds"))
            for a in raw.get("adjust", [])
        )
        actions = tuple(Action(a["state"], a["when_at_least"], a["text"]) for a in raw.get("action", []))
        return causes, adjusts, actions

    def _states(self) -> Iterator[State]:
        file = "states.toml"
        for entry in self.raw[file]["state"]:
            near = f'id = "{entry["id"]}"'
            self._probability(file, near, entry["otherwise"])
            self._known(file, near, entry["kind"], "kind of state", TWO_KINDS)
            if entry["kind"] == "mechanism":
                self._known(file, near, entry["id"], "mechanism", self.mechanisms)
            links = tuple(
                Link(
                    self._parents(file, near, x),
                    (float(x["chance"]),),
                    self._when(file, near, x),
                    x.get("why", ""),
                    x.get("source", ""),
                )
                for x in entry["links"]
            )
            for x, link in zip(entry["links"], links, strict=True):
                self._why(file, near, entry["id"], x)
                self._probability(file, near, link.shows[0])
            yield State(entry["id"], entry["kind"], float(entry["otherwise"]), links)

    def _findings(self) -> Iterator[Finding]:
        known = {f"{p}.{c}" for p, conditions in vocabulary.parts().items() for c in conditions}
        known |= {"assembly.part_missing_or_wrong", "oil_drained.low"}
        met: set[str] = set()
        for file in self.raw:
            for entry in self.raw[file].get("finding", []):
                near = f'id = "{entry["id"]}"'
                if file not in _NOT_PARTS:
                    self._known(file, near, entry["id"], "part and condition of the vocabulary", known)
                if entry["id"] in met:
                    self.problem(file, near, f"finding {entry['id']} stands twice")
                met.add(entry["id"])
                yield self._finding(file, near, entry)

    def _finding(self, file: str, near: str, entry: Mapping[str, Any]) -> Finding:
        otherwise = _levels(entry["otherwise"], entry.get("otherwise_heavy"), entry)
        links = []
        for x in entry["links"]:
            self._why(file, near, entry["id"], x)
            shows = _levels(x["shows"], x.get("heavy", HEAVY_OF_SHOWN), entry)
            self._levels_fit(file, near, str(x["from"]), shows, otherwise)
            links.append(
                Link(
                    self._parents(file, near, x),
                    shows,
                    self._when(file, near, x),
                    x.get("why", ""),
                    x.get("source", ""),
                )
            )
        for mechanism in entry.get("times", {}):
            self._known(file, near, mechanism, "mechanism", self.mechanisms)
        if not links and not entry.get("times"):
            self.problem(file, near, f"no link reaches {entry['id']}")
        if isinstance(entry["otherwise"], list):
            levels = tuple(f"past limit {i} of {len(otherwise)}" for i in range(1, len(otherwise) + 1))
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
        if len(shows) != len(otherwise):
            self.problem(file, near, f"{parent} shows {len(shows)} levels, otherwise gives {len(otherwise)}")
            return
        if not all(0.0 <= x < 1.0 for x in (*otherwise, sum(otherwise))):
            self.problem(file, near, f"otherwise {sum(otherwise):g}: it must be a probability below 1")
            return
        acts = []
        for i in range(len(shows)):
            self._probability(file, near, shows[i])
            with_state, without = sum(shows[i:]), sum(otherwise[i:])
            if with_state < without:
                self.problem(file, near, f"{parent} shows it less often ({with_state:g}) than otherwise ({without:g})")
            acts.append(1.0 - (1.0 - with_state) / (1.0 - without))
        if any(high > low + 1e-9 for low, high in itertools.pairwise(acts)):
            self.problem(file, near, f"{parent}: too much of it heavy for how often it shows; lower `heavy`")

    def _exclusions(self, findings: Mapping[str, Finding]) -> Iterator[Exclusion]:
        file = "exclusions.toml"
        for entry in self.raw[file]["exclusion"]:
            near = f'why = "{entry["why"]}"'.replace("'", '"')
            self._why(file, near, "exclusion", entry)
            self._probability(file, near, entry["rate"])
            yield from exclusions.of_entry(entry, findings, partial(self.problem, file, near))

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
            if not self._known(
                file, near, bare, "mechanism, state or cause", self.mechanisms | self.state_ids | self.cause_ids
            ):
                continue
            if parent.endswith("!") and bare not in self.mechanisms:
                self.problem(file, near, f"{parent}: only a mechanism can be the first")
            elif bare in self.mechanisms - self.state_ids and not parent.endswith("!"):
                self.problem(file, near, f"{bare} never follows: write {bare}!")
        return parents

    def _known(self, file: str, near: str, word: str, kind: str, allowed: Iterable[str]) -> bool:
        if word in allowed:
            return True
        self.problem(file, near, f"{word} is no {kind}{meant(word, sorted(allowed))}")
        return False

    def _when(self, file: str, near: str, entry: Mapping[str, Any]) -> When:
        when = {k: tuple(v) for k, v in entry.get("when", {}).items()}
        for key, values in when.items():
            allowed = {**model.CONTEXT, "mechanism": tuple(sorted(self.mechanisms))}.get(key, ())
            for value in set(values) - set(allowed):
                self.problem(
                    file, near, f"when {key} = {value}: {key} can be {', '.join(allowed) or 'nothing: unknown key'}"
                )
        return when

    def _why(self, file: str, near: str, name: str, entry: Mapping[str, Any]) -> None:
        if not entry.get("why"):
            self.problem(file, near, f"a link to {name} has no why")
        if entry.get("source") not in self.sources:
            given = entry.get("source")
            self.problem(file, near, f"source {given!r} is not in sources.toml{meant(given, self.sources)}")

    def _probability(self, file: str, near: str, value: float) -> None:
        if not 0.0 <= value <= 1.0:
            self.problem(file, near, f"{value} is no probability (0 to 1)")


def _reason(entry: Mapping[str, Any], factor: str) -> tuple[float, str, str]:
    return float(entry[factor]), entry["why"], entry["source"]


_NOT_PARTS = {"findings/history.toml", "findings/readings.toml"}


def _levels(total: Any, heavy: float | None, entry: Mapping[str, Any]) -> tuple[float, ...]:
    """Probability of each level above none."""
    if isinstance(total, list):
        return tuple(float(x) for x in total)
    if entry.get("graded") is False:
        return (float(total),)
    share = 0.5 if heavy is None else float(heavy)
    return (float(total) * (1.0 - share), float(total) * share)
