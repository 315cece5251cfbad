"""The demo scenario: readable but for one record, consistent with its units table, remade by its recipe to the byte."""

import csv
import importlib.util
import sys
from datetime import date
from pathlib import Path
from types import ModuleType

import pytest
from openpyxl import load_workbook
from PIL import Image

from stripdown import vocabulary
from stripdown.record import Record, Rejected, read_all
from stripdown.resources import demo

FOLDER = demo()
ROOT = Path(__file__).resolve().parent.parent
UNITS = list(csv.DictReader((FOLDER / "units.csv").read_text(encoding="utf-8").splitlines()))
ABSENT = {"Q3-88-1207", "T2060-1811-0044"}  # named in the demo's README


@pytest.fixture(scope="module")
def items() -> list[Record | Rejected]:
    return list(read_all([FOLDER]))


@pytest.fixture(scope="module")
def records(items: list[Record | Rejected]) -> list[Record]:
    return [i for i in items if isinstance(i, Record)]


@pytest.fixture(scope="module")
def recipe() -> ModuleType:
    path = ROOT / "tools" / "make_demo.py"
    if not path.exists():
        pytest.skip("the recipe is only in a checkout")
    sys.path.insert(0, str(path.parent))
    try:
        spec = importlib.util.spec_from_file_location("make_demo", path)
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules["make_demo"] = module
        spec.loader.exec_module(module)
    finally:
        sys.path.remove(str(path.parent))
    return module


def test_one_record_is_rejected_and_every_fault_of_it_is_named(items: list[Record | Rejected]) -> None:
    rejected = [i for i in items if isinstance(i, Rejected)]
    assert [r.claim for r in rejected] == ["TW-2025-018"]
    # what was put wrong into the file, by hand: a failure before the installation, a pressure for an insulation,
    # a value in quotes, a part and a condition misspelt, an extent left out where it is asked for
    faults = {f.entry.split(".")[0]: f for f in rejected[0].faults}
    assert {"history", "readings[1]", "readings[2]", "observations[1]", "observations[2]", "observations[3]"} <= set(
        faults
    )
    assert "main_bearing" in faults["observations[1]"].fix
    assert "dark_burnt" in faults["observations[2]"].fix
    assert "Mohm" in faults["readings[1]"].fix


def test_every_form_of_record_is_there(records: list[Record]) -> None:
    forms = [Path(r.file.split(":")[0]).suffix for r in records]
    counts = {"toml": 15, "json": 5, "jsonl": 4, "xlsx": 5}
    assert {f: sum(x.startswith(f".{f}") and len(x) == len(f) + 1 for x in forms) for f in counts} == counts
    assert sum(r.claim in {"TW-2024-009", "TW-2025-008", "TW-2025-009", "TW-2025-014"} for r in records) == 4
    assert len(records) == 33


def test_poor_and_rich_records(records: list[Record]) -> None:
    assert sum(len(r.observations) + len(r.readings) <= 3 for r in records) >= 2
    assert sum(len(r.observations) >= 25 for r in records) >= 3
    assert sum(len(r.confirmed) for r in records) == 4


def test_every_claim_has_its_story_on_the_page(items: list[Record | Rejected]) -> None:
    page = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert [i.claim for i in items if f"| {i.claim} |" not in page] == []


def test_awkward_text_comes_through_as_it_was_typed(records: list[Record]) -> None:
    record = next(r for r in records if r.claim == "TW-2025-001")
    assert record.history.reported is not None
    assert record.history.reported.startswith('<b>urgent</b> & "quoted" {{x}}')
    assert record.history.site == "Østerby flower hall"


def test_replacements_stand_where_the_replaced_stood(records: list[Record]) -> None:
    by_serial = {r.unit.serial: r for r in records}
    pairs = [(r, by_serial[r.history.replaces]) for r in records if r.history.replaces]
    assert len(pairs) == 3
    for new, old in pairs:
        assert new.history.site == old.history.site
        assert new.unit.model == old.unit.model
        assert old.history.failed is not None
        assert new.history.installed is not None
        assert old.history.failed < new.history.installed


def test_units_table_agrees_with_the_returns(records: list[Record]) -> None:
    table = {u["serial"]: u for u in UNITS}
    assert len(table) == len(UNITS) == 600
    assert {r.unit.serial for r in records} - set(table) == ABSENT
    for record in records:
        row = table.get(record.unit.serial)
        if row is None:
            continue
        history = record.history
        assert (row["model"], row["site"], row["contractor"]) == (record.unit.model, history.site, history.contractor)
        assert row["installed"] == str(history.installed)
        assert record.unit.built is None or row["built"] == str(record.unit.built)
        assert history.failed is not None
        assert history.failed <= date.fromisoformat(row["removed"])
        assert row["replaces"] == (history.replaces or "")
        assert history.returned is None or date.fromisoformat(row["removed"]) <= history.returned


def test_units_table_is_a_possible_one(records: list[Record]) -> None:
    returned = {r.unit.serial for r in records}
    for row in UNITS:
        dates = [date.fromisoformat(row[k]) for k in ("built", "installed", "removed") if row[k]]
        assert dates == sorted(dates), row
        assert date(2016, 1, 1) <= dates[1] <= date(2025, 12, 31), row
    table = {u["serial"]: u for u in UNITS}
    for new, old in ((u, table[u["replaces"]]) for u in UNITS if u["replaces"]):
        assert (new["site"], new["model"]) == (old["site"], old["model"])
        assert old["removed"] <= new["installed"]
    without_record = [u for u in UNITS if u["removed"] and u["serial"] not in returned]
    assert len(without_record) == 34
    assert sum(u["removed"] < "2023" for u in without_record) == 9


def test_hours_fit_the_calendar(records: list[Record]) -> None:
    for record in records:
        history, hours = record.history, record.unit.run_hours
        if hours is not None and history.installed and history.failed:
            assert hours <= ((history.failed - history.installed).days + 1) * 24, record.claim


def test_pictures_are_drawings_without_metadata() -> None:
    pictures = sorted((FOLDER / "returns" / "photos").iterdir())
    assert len(pictures) == 7
    for path in pictures:
        with Image.open(path) as picture:
            picture.load()
            assert picture.format == "PNG"
            assert not picture.info
            assert not picture.getexif()


def test_one_named_picture_is_missing(records: list[Record]) -> None:
    named = {(r.claim, p) for r in records for o in r.observations for p in o.photos}
    missing = {(c, p) for c, p in named if not (FOLDER / "returns" / p).is_file()}
    assert missing == {("TW-2024-015", "photos/valve-plate-004127.png")}


def test_the_log_is_a_day_of_minutes(records: list[Record]) -> None:
    record = next(r for r in records if r.history.log)
    assert record.history.log is not None
    rows = list(csv.DictReader((FOLDER / "returns" / record.history.log).read_text(encoding="utf-8").splitlines()))
    assert len(rows) == 24 * 60 - 14  # the controller was offline for 14 minutes
    assert rows[-1]["time"] == "2025-09-06T23:59:00"


def test_ids_of_confirmed_findings_are_of_the_vocabulary(records: list[Record]) -> None:
    for confirmed in (c for r in records for c in r.confirmed):
        assert confirmed.first in vocabulary.mechanisms()
        assert set(confirmed.causes) <= set(vocabulary.causes())
        assert confirmed.outcome in vocabulary.outcomes()
        assert confirmed.liability in vocabulary.liabilities()


def test_the_demo_is_small() -> None:
    assert sum(p.stat().st_size for p in FOLDER.rglob("*") if p.is_file()) < 3_000_000


def test_the_recipe_makes_what_is_committed(recipe: ModuleType, tmp_path: Path, records: list[Record]) -> None:
    """Text to the byte; workbook and pictures by content, which another version of their libraries leaves alone."""
    made = tmp_path / "made"
    for number in ("one", "two"):
        folder = tmp_path / number
        (folder / "returns").mkdir(parents=True)
        recipe.demo_workbook.write(folder / "returns.xlsx")
        recipe.demo_pictures.draw_all(folder / "photos")
    names = sorted(p.relative_to(tmp_path / "one") for p in (tmp_path / "one").rglob("*.*"))
    assert all((tmp_path / "one" / n).read_bytes() == (tmp_path / "two" / n).read_bytes() for n in names)

    made.mkdir()
    recipe.write_log(made / "log.csv")
    recipe.write_units(made / "units.csv", recipe.population(records))
    assert (made / "log.csv").read_bytes() == (FOLDER / "returns" / "logs" / "tw-2025-016.csv").read_bytes()
    assert (made / "units.csv").read_bytes() == (FOLDER / "units.csv").read_bytes()
    assert _cells(tmp_path / "one" / "returns.xlsx") == _cells(FOLDER / "returns" / "returns.xlsx")
    for path in (FOLDER / "returns" / "photos").iterdir():
        with Image.open(path) as kept, Image.open(tmp_path / "one" / "photos" / path.name) as fresh:
            assert kept.convert("RGB").tobytes() == fresh.convert("RGB").tobytes(), path.name


def _cells(path: Path) -> dict[str, list[tuple[object, ...]]]:
    book = load_workbook(path)
    return {s.title: list(s.iter_rows(values_only=True)) for s in book.worksheets}
