"""The knowledge: what is wrong with it is told with file and line, all at once; what is shipped is whole."""

import math
import shutil
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
import tomli_w

from stripdown import knowledge, vocabulary
from stripdown.knowledge import KnowledgeError, files, finding_of

SHIPPED = knowledge.load()
FOLDER = Path(files.__file__).parent
Own = Callable[[str], Path]


@pytest.fixture
def own(tmp_path: Path) -> Own:
    """Writes an own file of knowledge."""

    def write(text: str) -> Path:
        path = tmp_path / "own.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def wrong_with(path: Path) -> list[tuple[str, int, str]]:
    """(file name without its folders, line, what) of every problem of an own file."""
    with pytest.raises(KnowledgeError) as told:
        knowledge.load(path)
    return [(Path(p.file).name, p.line, p.what) for p in told.value.problems]


FINDING = """
[[finding]]
id = "oil.milky"
otherwise = 0.03
links = [{from = "moisture_ingress", shows = 0.3, why = "water", source = "practice"}]
"""
STATE = """
[[state]]
id = "feed_lost"
kind = "damage"
otherwise = 0.002
links = [{from = "oil_feed_fault", chance = 0.8, why = "nothing comes", source = "practice"}]
"""
CAUSE = """
[[cause]]
id = "age"
liability = "end_of_life"
correction = "Renew."
feeds = [{mechanism = "wear_out", share = 0.9}]
"""
MECHANISM = """
[mechanisms.floodback]
desk = [12, 12, 9]
rebuilder = [15, 15.5, 12]
hours = [1, 1.3, 1.2, 1, 0.8]
why = "counted"
source = "estimate"
"""
ALL = MECHANISM + STATE + CAUSE + FINDING


def test_the_examples_below_are_good_before_something_is_changed(own: Own):
    assert knowledge.load(own(ALL)).findings["oil.milky"].links[0].shows == pytest.approx((0.06, 0.24))


@pytest.mark.parametrize(
    ("good", "bad", "at", "says"),
    [
        # names that stand for nothing, with the one that was meant
        ('"moisture_ingress"', '"moisture_ingres"', "oil.milky", "no mechanism, state or cause; did you mean moisture"),
        (
            'id = "oil.milky"',
            'id = "oil.milkey"',
            "oil.milkey",
            "no part and condition of the vocabulary; did you mean",
        ),
        ('source = "practice"}]\n\n[[cause', 'source = "practise"}]\n\n[[cause', "feed_lost", "did you mean practice?"),
        ('"wear_out"', '"wearout"', "age", "wearout is no mechanism; did you mean wear_out?"),
        ('id = "age"', 'id = "aged"', "aged", "aged is no cause of the vocabulary; did you mean age?"),
        (
            '"end_of_life"',
            '"endoflife"',
            "age",
            "endoflife is no liability of the vocabulary; did you mean end_of_life",
        ),
        ("mechanisms.floodback", "mechanisms.flodback", "flodback", "did you mean floodback?"),
        ("otherwise = 0.03", "otherwise = 0.03\ntimes = {wear_ot = 2}", "oil.milky", "did you mean wear_out?"),
        ('kind = "damage"', 'kind = "damaged"', "feed_lost", "damaged is no kind of state; did you mean damage?"),
        ('"oil_feed_fault"', '"no_fault"', "feed_lost", "no_fault never follows: write no_fault!"),
        ('"oil_feed_fault"', '"acid_in_oil!"', "feed_lost", "acid_in_oil!: only a mechanism can be the first"),
        ("shows = 0.3", 'shows = 0.3, when = {duty = ["cold"]}', "oil.milky", "duty = cold: duty can be low, medium"),
        (
            "shows = 0.3",
            'shows = 0.3, when = {moon = ["full"]}',
            "oil.milky",
            "moon = full: moon can be nothing: unkno",
        ),
        # no reason given
        ('why = "water", ', "", "oil.milky", "a link to oil.milky has no why"),
        ('why = "nothing comes", ', "", "feed_lost", "a link to feed_lost has no why"),
        ('why = "counted"\n', "", "floodback]", "a link to floodback has no why"),
        # numbers that cannot be
        ("chance = 0.8", "chance = 1.2", "feed_lost", "1.2 is no probability"),
        ("otherwise = 0.002", "otherwise = -0.1", "feed_lost", "-0.1 is no probability"),
        ("share = 0.9", "share = 9", "age", "9 is no probability"),
        ("shows = 0.3", "shows = 0.01", "oil.milky", "shows it less often (0.01) than otherwise (0.03)"),
        ("shows = 0.3", "shows = 0.031, heavy = 1", "oil.milky", "too much of it heavy"),
        ("otherwise = 0.03", "otherwise = 1", "oil.milky", "it must be a probability below 1"),
        ("otherwise = 0.03", "otherwise = [0.01, 0.01, 0.01]", "oil.milky", "shows 2 levels, otherwise gives 3"),
        ("desk = [12,", "desk = [-12,", "floodback]", "floodback: desk holds -12; none can be below 0"),
        # wrong shape
        ("shows = 0.3", 'shows = "often"', "oil.milky", "links 1: shows should be a number or a list of numbers"),
        ("shows = 0.3", "shown = 0.3", "oil.milky", "links 1: unknown key shown; did you mean shows?"),
        ("shows = 0.3, ", "", "oil.milky", "oil.milky: links 1: shows is missing: a number or a list of numbers"),
        ("share = 0.9", "share = nan", "age", "feeds 1: share should be a number, not 'nan'"),
        ("desk = [12, 12, 9]", "desk = [12, 9]", "floodback]", "floodback: desk should be three numbers"),
        ("[[cause]]", "[cause]", "", "cause should be a list of tables: write [[cause]]"),
        ('id = "feed_lost"\n', "", "", "state 1 of the file: id is missing: text"),
        (
            "[mechanisms.floodback]",
            "[priors.floodback]",
            "priors",
            "unknown table priors: mechanisms, state, cause, fi",
        ),
    ],
)
def test_each_fault_names_the_own_file_its_line_and_what_is_wrong(own: Own, good: str, bad: str, at: str, says: str):
    assert ALL.count(good) == 1, good
    text = ALL.replace(good, bad)
    found = [(line, what) for name, line, what in wrong_with(own(text)) if name == "own.toml" and says in what]
    assert len(found) == 1
    if at:
        assert at in text.splitlines()[found[0][0] - 1]


def test_all_faults_come_at_once_sorted_by_file_and_line(own: Own):
    text = (
        ALL.replace("chance = 0.8", "chance = 7").replace('"wear_out"', '"wearout"').replace("shows = 0.3", "show = 1")
    )
    found = wrong_with(own(text))
    assert [what for _, _, what in found] == [
        "7.0 is no probability (0 to 1)",
        "wearout is no mechanism; did you mean wear_out?",
        "oil.milky: links 1: shows is missing: a number or a list of numbers",
        "oil.milky: links 1: unknown key show; did you mean shows?",
    ]
    assert [line for _, line, _ in found] == sorted(line for _, line, _ in found)


def test_one_entry_given_twice_is_told(own: Own):
    assert [what for _, _, what in wrong_with(own(FINDING + FINDING))] == ["finding oil.milky stands twice"]


def test_an_entry_without_a_name_is_told_at_its_own_line(own: Own):
    text = STATE + STATE.replace('id = "feed_lost"\n', "")
    assert wrong_with(own(text)) == [("own.toml", 8, "state 2 of the file: id is missing: text")]
    assert text.splitlines()[7] == "[[state]]"


def test_a_cycle_is_told_where_it_closes(own: Own):
    text = STATE.replace('"oil_feed_fault"', '"winding_failed"')
    ((name, line, what),) = wrong_with(own(text))
    assert (name, line) == ("own.toml", 3)
    assert "depends on winding_failed" in what
    assert "cycle" in what


@pytest.mark.parametrize("content", [b"mechanisms = ", b"\xff\xfe", b"a = " + b"[" * 20_000])
def test_what_cannot_be_read_is_told(tmp_path: Path, content: bytes):
    path = tmp_path / "own.toml"
    path.write_bytes(content)
    ((name, line, what),) = wrong_with(path)
    assert (name, line) == ("own.toml", 0)
    assert what.startswith("cannot be read")


@pytest.mark.parametrize(
    "content", ["state = 3", "finding = [1, 2]", "mechanisms = []", "mechanisms = {floodback = 1}"]
)
def test_what_has_no_shape_at_all_is_told(own: Own, content: str):
    assert any("should be a" in what for _, _, what in wrong_with(own(content)))


def test_an_own_file_is_laid_over_ours_by_id(own: Own):
    changed = knowledge.load(own(ALL))
    assert changed.priors["floodback"].desk == (12, 12, 9)
    assert changed.states[[s.id for s in changed.states].index("feed_lost")].links[0].shows == (0.8,)
    assert changed.causes["age"].correction == "Renew."
    assert [s.id for s in changed.states] == [s.id for s in SHIPPED.states]
    assert list(changed.findings) == list(SHIPPED.findings)
    same = {f for f in SHIPPED.findings if changed.findings[f] == SHIPPED.findings[f]}
    assert set(SHIPPED.findings) - same == {"oil.milky"}


def test_the_digest_names_the_numbers_and_nothing_else(own: Own):
    assert knowledge.load().digest == SHIPPED.digest
    given = tomllib.loads((FOLDER / "findings/oil.toml").read_text(encoding="utf-8"))
    assert knowledge.load(own(tomli_w.dumps(given))).digest == SHIPPED.digest
    assert knowledge.load(own("# only a remark\n")).digest == SHIPPED.digest
    assert knowledge.load(own(FINDING)).digest != SHIPPED.digest


@pytest.mark.parametrize(
    ("file", "good", "bad", "says"),
    [
        (
            "readings.toml",
            'finding = "oil_acid_number.high"',
            'finding = "oil_acid.high"',
            "oil_acid.high is no finding",
        ),
        ("readings.toml", 'levels = ["notice", "limit", "danger"]', 'levels = ["limit"]', "has 3 levels, 1 are given"),
        ("checks.toml", 'after = ["heads"]', 'after = ["head"]', "head is no step; did you mean heads?"),
        ("checks.toml", 'parts = ["motor_sensor"]', 'parts = ["motor_sensors"]', "no part; did you mean motor_sensor?"),
        ("checks.toml", '"sensor_resistance.bad"', '"sensor_resistance.worse"', "did you mean sensor_resistance.bad?"),
        ("checks.toml", "minutes = 90", "minutes = 0", "layout: minutes must be above 0"),
        (
            "checks.toml",
            'caution = "Never the insulation tester on sensors; disconnect the module first."',
            'caution = ""',
            "sensors has no caution",
        ),
        ("outcomes.toml", "[rebuild]", "[re_build]", "re_build is no outcome; did you mean rebuild?"),
        (
            "outcomes.toml",
            'risk = ["winding_failed", "rotor_drag"]',
            'risk = ["rotor_dragg"]',
            "did you mean rotor_drag?",
        ),
        ("outcomes.toml", 'sound = ["electrical", "running"]', 'sound = ["electric"]', "no finding and no group"),
        (
            "outcomes.toml",
            'over_pressure_cause = ["condenser.*"',
            'over_pressure_cause = ["condensor.*"',
            "condensor.* is",
        ),
        ("history.toml", "surge = [0.40,", "surge = [0.50,", "surge: 5 probabilities that sum to 1"),
        ("causes.toml", 'state = "loose_fragments"', 'state = "fragments"', "fragments is no state"),
        (
            "causes.toml",
            'cause = "age"\nwhen = {hours = ["40000-"]}',
            'cause = "old"\nwhen = {hours = ["40000-"]}',
            "old is no cause and no liability",
        ),
        ("mechanisms.toml", "[surge]", "[surges]", "surges is no mechanism of the vocabulary; did you mean surge?"),
        (
            "exclusions.toml",
            '"charge.over" = ',
            '"charge.ower" = ',
            "charge.ower is no finding; did you mean charge.over?",
        ),
        ("exclusions.toml", '"charge.over" = "present"', '"charge.over" = "heavy"', "heavy is no level of charge.over"),
        ("exclusions.toml", "rate = 0.003", "rate = 3", "3 is no probability"),
        (
            "exclusions.toml",
            'unless = ["crankshaft.broken"]',
            'unless = ["crank.broken"]',
            "crank.broken is no finding",
        ),
        ("exclusions.toml", '"centre_bearing.seized" = "heavy"', '"center_bearing.seized" = "heavy"', "did you mean"),
        (
            "exclusions.toml",
            'findings = {"piston.holed" = "heavy at every cylinder"}',
            'findings = {"oil.sludge" = "heavy at every cylinder"}',
            "only heavy, and only of a part that each cylinder has",
        ),
        (
            "exclusions.toml",
            '"piston.holed" = "heavy at every cylinder"',
            '"piston.holed" = "none at every cylinder"',
            "only heavy, and only of a part that each cylinder has",
        ),
        (
            "exclusions.toml",
            'findings = {"charge.over" = "present", "charge.under" = "present"}',
            'findings = {"charge.over" = "present"}',
            "an exclusion needs two findings or more",
        ),
        ("mechanisms.toml", "[surge]", "[surges]", "surge has no share"),
        ("findings/oil.toml", 'id = "oil.milky"', 'id = "oil.sludge"', "no link reaches oil.milky"),
        ("findings/oil.toml", 'id = "oil.milky"', 'id = "oil.sludge"', "finding oil.sludge stands twice"),
    ],
)
def test_faults_of_the_shipped_files_are_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, file: str, good: str, bad: str, says: str
):
    folder = tmp_path / "knowledge"
    shutil.copytree(FOLDER, folder, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    text = (folder / file).read_text(encoding="utf-8")
    assert good in text
    (folder / file).write_text(text.replace(good, bad, 1), encoding="utf-8")
    monkeypatch.setattr(files, "FOLDER", folder)
    with pytest.raises(KnowledgeError) as told:
        knowledge.load()
    assert any(says in p.what for p in told.value.problems), str(told.value)


def test_an_exclusion_is_one_of_each_of_its_groups_in_every_combination(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """By hand: two groups of two and what all share give four, with the levels as they stand."""
    folder = tmp_path / "knowledge"
    shutil.copytree(FOLDER, folder, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    (folder / "exclusions.toml").write_text(
        """
        [[exclusion]]
        findings = {"oil.low" = "slight"}
        one_of = [
          {"piston.holed" = "heavy at every cylinder", "piston.broken" = "heavy"},
          {"crank.will_not_turn" = "none", "pumping.does_not_pump" = "present"},
        ]
        unless = ["oil.foaming"]
        rate = 0.002
        why = "for the test"
        source = "practice"
        """,
        encoding="utf-8",
    )
    monkeypatch.setattr(files, "FOLDER", folder)
    made = knowledge.load().exclusions
    assert [dict(e.findings) for e in made] == [
        {"oil.low": 1, "piston.holed": 2, "crank.will_not_turn": 0},
        {"oil.low": 1, "piston.holed": 2, "pumping.does_not_pump": 1},
        {"oil.low": 1, "piston.broken": 2, "crank.will_not_turn": 0},
        {"oil.low": 1, "piston.broken": 2, "pumping.does_not_pump": 1},
    ]
    assert [set(e.everywhere) for e in made] == [{"piston.holed"}, {"piston.holed"}, set(), set()]
    assert all(e.unless == {"oil.foaming"} and e.why == "for the test" for e in made)


# What is shipped


def test_every_part_and_condition_is_answered_by_a_finding_that_says_something():
    for part, conditions in vocabulary.parts().items():
        for condition in conditions:
            finding = SHIPPED.findings[finding_of(part, condition)]
            assert finding.links or finding.times, f"{part}.{condition}"


def test_every_link_says_why_and_names_a_source_that_exists():
    links = [(s.id, x) for s in SHIPPED.states for x in s.links]
    links += [(f.id, x) for f in SHIPPED.findings.values() for x in f.links]
    assert len(links) > 400
    for effect, link in links:
        assert len(link.why.split()) >= 2, effect
        assert link.source in SHIPPED.sources, effect
    for adjust in (*SHIPPED.prior_adjusts, *SHIPPED.cause_adjusts):
        assert adjust.why, adjust.target
        assert adjust.source in SHIPPED.sources, adjust.target


@pytest.mark.parametrize("table", ["desk", "rebuilder"])
@pytest.mark.parametrize("duty", [0, 1, 2])
def test_shares_of_first_mechanisms_sum_to_a_hundred_percent(table: str, duty: int):
    assert math.fsum(getattr(p, table)[duty] for p in SHIPPED.priors.values()) == pytest.approx(100.0, abs=1e-9)


def test_when_it_failed_sums_to_one_under_every_mechanism():
    for row in (SHIPPED.failed_when.any, *SHIPPED.failed_when.by.values()):
        assert math.fsum(row) == pytest.approx(1.0, abs=1e-12)


def test_every_cause_feeds_some_mechanism_and_says_what_to_put_right():
    """A share is how often the cause is at work when that mechanism is first: each on its own, so no sum is asked."""
    assert set(SHIPPED.causes) == set(vocabulary.causes())
    for cause in SHIPPED.causes.values():
        assert cause.feeds, cause.id
        assert len(cause.correction.split()) >= 3, cause.id


def test_every_step_has_minutes_and_a_caution_before_it():
    for step in SHIPPED.steps:
        assert step.minutes > 0
        assert len(step.caution.split()) >= 3, step.id


def test_every_finding_that_can_be_looked_for_belongs_to_one_step():
    of_steps = [p for s in SHIPPED.steps for p in s.parts]
    assert len(of_steps) == len(set(of_steps))
    readings = [r for s in SHIPPED.steps for r in s.readings]
    assert len(readings) == len(set(readings))
    assert set(vocabulary.parts()) <= set(of_steps)
