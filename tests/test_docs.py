"""What README and docs say is so: examples run, links lead somewhere, every command is told."""

import importlib.util
import re
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

import stripdown
from stripdown.cli import program, run
from stripdown.fleet import read_population
from stripdown.limits import load_sheets
from stripdown.reasoning import costs, decide
from stripdown.record import load, schema, sheets
from tests.cli.calling import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]


def tool(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "tools" / f"{name}.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.M | re.S)


@pytest.mark.parametrize("block", [b for b in blocks(README, "") if b.startswith("$ stripdown")])
def test_readme_shows_what_the_program_says(
    block: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    command, _, shown = block.partition("\n")
    monkeypatch.chdir(ROOT)
    run(command.split()[2:])
    assert capsys.readouterr().out == shown


def test_readme_names_every_command() -> None:
    assert len(program.commands) > 8
    for name in program.commands:
        assert re.search(rf"`stripdown (open )?.*{name}", README), name


def test_python_example_of_the_readme_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    (example,) = blocks(README, "python")
    monkeypatch.chdir(ROOT)
    names: dict[str, stripdown.Case] = {}
    exec(example, names)
    assert names["case"].finding.status == "established"


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (page.parent / target).exists(), target


def test_examples_of_a_record_can_be_read(tmp_path: Path) -> None:
    short, rest = blocks((ROOT / "docs" / "records.md").read_text(encoding="utf-8"), "toml")
    (tmp_path / "short.toml").write_text(short, encoding="utf-8")
    assert stripdown.read(tmp_path / "short.toml").claim == "NB-2026-0117"
    (tmp_path / "rich.toml").write_text('format = 1\nclaim = "NB-2026-0118"\n' + rest, encoding="utf-8")
    assert stripdown.read(tmp_path / "rich.toml").history.contractor == "crew 7"


def test_limits_in_the_docs_are_those_in_force() -> None:
    page = (
        (ROOT / "docs" / "records.md").read_text(encoding="utf-8").replace("20 000", "20000").replace("1 000", "1000")
    )
    for said in (
        f"| `claim` | {schema.CLAIM_LENGTH} characters |",
        f"other names | {schema.LONGEST_ID} characters |",
        f"`instruments` … | {schema.LONGEST_TEXT} characters |",
        f"photos … | {schema.MOST_ENTRIES} entries |",
        f"a line of `.jsonl` | {load.MOST_BYTES // 1_000_000} MB |",
        f"a workbook unpacked | {sheets.MOST_BYTES // 1_000_000} MB |",
    ):
        assert said in page


def test_every_key_of_the_cost_table_is_explained() -> None:
    page = (ROOT / "docs" / "costs.md").read_text(encoding="utf-8")
    told = {key for row in re.findall(r"^\| (`[^|]*`) \|", page, re.M) for key in re.findall(r"`([^`]+)`", row)}
    shipped = tomllib.loads(costs.SHIPPED.read_text(encoding="utf-8"))
    keys = {k for k, v in shipped.items() if not isinstance(v, dict)}
    keys |= {f"{table}.{k}" for table, rows in shipped.items() if isinstance(rows, dict) for k in rows}
    assert keys <= told
    outcomes = {"return_to_service", "rebuild", "replace_compressor", "inspect_further", *decide.PART_ONLY}
    assert told - keys <= outcomes
    assert f" {decide.SCRAPPED_BY_REBUILD:g} × `sound_unit_scrapped`" in page


def test_tables_of_units_in_the_docs_can_be_read(tmp_path: Path) -> None:
    page = (ROOT / "docs" / "units-table.md").read_text(encoding="utf-8")
    tables = [b for b in blocks(page, "") if not b.startswith("stripdown")]
    assert [t.partition("\n")[0].count(",") for t in tables] == [7, 2]
    for number, text in enumerate(tables):
        (tmp_path / f"{number}.csv").write_text(text, encoding="utf-8")
        read = read_population(tmp_path / f"{number}.csv")
        assert (len(read.units), read.notices) == (2, ())
    for column in schema.POPULATION:
        assert f"`{column}`" in page


def test_figures_that_stand_beside_the_class_limits_are_those() -> None:
    """DEVELOPERS.md, "Change a limit", names these places."""
    limit = load_sheets().for_model("").limit
    gas, superheat, ratio, vacuum = (
        {t.name: t for t in found.tiers}
        for rule in ("discharge_temperature", "suction_superheat", "compression_ratio", "evacuation")
        if (found := limit(rule))
    )
    docs = (ROOT / "docs" / "limit-sheets.md").read_text(encoding="utf-8")
    hot, danger = gas["limit"].high, gas["danger"].high
    told = f"({hot:g}, {danger:g} degC), ratio ({ratio['limit'].high:g}) and superheat ({superheat['limit'].low:g} K)"
    assert told in docs
    knowledge = ROOT / "src" / "stripdown" / "knowledge"
    findings = tomllib.loads((knowledge / "readings.toml").read_text(encoding="utf-8"))
    graded = [f for rows in findings.values() if isinstance(rows, list) for f in rows]
    (grades,) = [f["above"] for f in graded if f.get("finding") == "discharge_line_temperature.high"]
    assert grades[:2] == [hot, danger]
    assert f"evacuate to {1000 * vacuum['limit'].high:g} Pa" in (knowledge / "causes.toml").read_text(encoding="utf-8")


def test_vocabulary_in_the_docs_is_the_one_in_force() -> None:
    told = tool("list_vocabulary")
    assert told.page() == told.PAGE.read_text(encoding="utf-8"), "python tools/list_vocabulary.py renews it"
