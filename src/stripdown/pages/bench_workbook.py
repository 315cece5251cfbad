"""The bench sheet as a workbook to fill in: a row for each look and reading in teardown order, cautions before them.

Its sheets are those of a batch of records, so that it is read back like any other workbook (`record.prepared` tells
which rows were filled in). Nothing in it is a formula, and no text becomes one.
"""

from stripdown import vocabulary
from stripdown.bench import fluid
from stripdown.knowledge.model import Knowledge, Step
from stripdown.limits.sheet import Sheet
from stripdown.pages import bench_limits, bench_plan
from stripdown.pages.bench_cells import Cells, Page
from stripdown.pages.show import Paper
from stripdown.pages.units import System
from stripdown.record import prepared, schema, units
from stripdown.record.schema import Field

_LOOK = (
    ("claim", 0),
    (prepared.STEP, 6),
    ("(look for)", 44),
    ("extent", 14),
    ("cylinder", 9),
    ("where", 18),
    ("photo", 26),
    ("note", 34),
    ("part", 20),
    ("condition", 22),
)
_MEASURE = (
    ("claim", 0),
    (prepared.STEP, 6),
    ("(measure)", 36),
    ("(limit)", 40),
    ("value", 11),
    ("unit", 10),
    ("temperature", 12),
    ("temperature_unit", 16),
    ("accuracy", 16),
    ("test_voltage", 12),
    ("gas", 12),
    ("cylinder", 9),
    ("absolute", 10),
    ("time", 20),
    ("quantity", 26),
    ("between", 12),
    ("at", 11),
    ("site", 7),
)
_SPARE_LOOKS, _SPARE_READINGS, _SPARE_STATEMENTS = 20, 12, 6
_HOW = (
    "returns: one row, for this compressor. Claim, serial and model must be there; examined_by is your name.",
    "observations: choose an extent for every row. sound: looked at and found good. yes: it is there. cannot read: too "
    "burnt, smashed or incomplete to tell. Empty or not looked at: never the same as sound.",
    "For a second cylinder, or a part that is missing or wrong, use the rows at the end of the sheet.",
    "readings: the value as read, its unit beside it. Leave empty what was not measured.",
    "statements: what the parties say, in their words.",
    "Columns in brackets are for you and are not read. Keep the names in the first rows. Save as .xlsx, then call "
    "stripdown check and stripdown judge with the file.",
)
_HINTS = {
    "extent": "Not looked at is never sound.",
    "cylinder": "Number from the pump end; several as 1;3",
    "photo": "File beside this workbook, as photos/plate.jpg; several with ; between",
    "value": "Number in the unit beside it.",
    "temperature": "Of the part measured.",
    "accuracy": "Of the instrument: 0.5% of the reading, 0.02 in its unit, or 0.5% + 0.02",
    "test_voltage": "Insulation only, in volts. Never under vacuum.",
    "absolute": "yes where the pressure counts from zero and its unit does not say so",
    "time": "As 2026-01-31 09:40:00",
    "between": "Two points, as U-V",
    "instruments": "Names, with ; between",
}
_NUMBER = Field("number", low=-1e9, high=1e9)
_OPEN_OR_SHORT = "Number in the unit beside it; open = over range, short = at the meter's floor"


def sheet_workbook(sheet: Sheet, knowledge: Knowledge, *, system: System = "si", paper: Paper = "a4") -> bytes:
    """The `.xlsx` of a model, limits and units in `system`; equal sheets give equal bytes."""
    parts = vocabulary.parts()
    conditions = dict.fromkeys(c for own in parts.values() for c in own)
    lists = {
        "refrigerants": fluid.names(),
        "parts": tuple(parts),
        "conditions": tuple(conditions),
        "quantities": tuple(schema.QUANTITIES),
    }
    cells = Cells(lists, paper)
    _read_first(cells, sheet, knowledge)
    _returns(cells, sheet)
    _observations(cells, sheet, knowledge)
    _readings(cells, sheet, knowledge, system)
    _statements(cells)
    return cells.made()


def _read_first(cells: Cells, sheet: Sheet, knowledge: Knowledge) -> None:
    page = cells.page("read first", (("", 8), ("", 84), ("", 12)))
    model = sheet.model if sheet.known else f"{sheet.model} (no limit sheet: limits of the class)"
    page.line(f"Bench workbook: {model}", large=True)
    page.line(f"CAUTION: {knowledge.general_caution}", fill=True)
    for text in _HOW:
        page.line(text)
    page.line(f"Limits: {sheet.name}. Knowledge: {knowledge.digest[:19]}.")
    page.row(("step", "what", "minutes"), head=True)
    for number, step in enumerate(knowledge.steps, start=1):
        page.row((number, step.title, step.minutes))


def _returns(cells: Cells, sheet: Sheet) -> None:
    columns = [c for c in schema.TABLE_COLUMNS["returns"] if c not in ("format", "log")]
    page = cells.page("returns", [(c, 16) for c in (*columns, "(signature)", "(minutes taken)")], _HINTS)
    page.row([sheet.model if c == "model" and sheet.known else None for c in page.names])
    for column in columns:
        if column == "refrigerant":
            page.choose(column, "refrigerants", must=False)
        else:
            page.rule(column, _field("returns", column))


def _field(sheet: str, column: str) -> Field:
    """What the record format says of a column."""
    *way, last = schema.TABLE_COLUMNS[sheet][column]
    section = sheet if sheet != "returns" and column != "claim" else ".".join(way)
    return schema.SECTIONS[section][last]


def _observations(cells: Cells, sheet: Sheet, knowledge: Knowledge) -> None:
    page = cells.page("observations", _LOOK, _HINTS)
    for number, step in enumerate(knowledge.steps, start=1):
        asked = [(part, c) for part in step.parts for c in bench_plan.conditions(part, sheet.machine)]
        if asked:
            _begin(page, number, step)
        for part, condition in asked:
            words = f"{vocabulary.label(part)}: {vocabulary.label(condition)}"
            page.row((None, number, words, *[None] * 5, part, condition))
            _look(page, prepared.answers(part, condition))
    page.line("Anything else: further cylinders, parts that are missing or wrong", fill=True)
    for _ in range(_SPARE_LOOKS):
        page.row((None, "+", *[None] * 8))
        _look(page, ("sound", "yes", "slight", "heavy", "cannot read", prepared.NOT_LOOKED_AT))
        page.choose("part", "parts")
        page.choose("condition", "conditions")


def _begin(page: Page, number: int, step: Step) -> None:
    """The step and its caution, before the first of its rows."""
    page.line(f"{number}  {step.title} ({step.minutes:g} min): {step.text}\nCAUTION: {step.caution}", fill=True)


def _look(page: Page, extents: tuple[str, ...]) -> None:
    page.choose("extent", extents)
    for column in ("cylinder", "where", "photo", "note"):
        page.rule(column, Field("text"))


def _readings(cells: Cells, sheet: Sheet, knowledge: Knowledge, system: System) -> None:
    page = cells.page("readings", _MEASURE, _HINTS)
    for number, step in enumerate(knowledge.steps, start=1):
        measures = bench_plan.measures(step.id, sheet.machine)
        if measures:
            _begin(page, number, step)
        for m in measures:
            for _ in range(bench_plan.rows_for(m)):
                page.row(_reading(m, number, sheet, system))
                _rules(page, _units(m.quantity, system), meter=schema.QUANTITIES[m.quantity].meter)
    page.line("Anything else", fill=True)
    for _ in range(_SPARE_READINGS):
        page.row((None, "+", *[None] * (len(_MEASURE) - 2)))
        page.choose("quantity", "quantities")
        _rules(page, (), meter=True)


def _reading(m: bench_plan.Measure, number: int, sheet: Sheet, system: System) -> list[str | float | None]:
    words = [vocabulary.label(m.quantity), m.between, f"cyl. {m.cylinder}" if m.cylinder else None]
    warm = schema.QUANTITIES[m.quantity].family == "resistance"
    said: dict[str, str | float | None] = {
        prepared.STEP: number,
        "(measure)": " ".join(w for w in words if w) + (f", {m.at}" if m.at else ""),
        "(limit)": bench_limits.told(m, sheet, system),
        "unit": bench_plan.first_unit(m.quantity, system),
        "temperature_unit": bench_plan.first_unit("ambient_temperature", system) if warm else None,
        "cylinder": m.cylinder,
        "quantity": m.quantity,
        "between": m.between,
        "at": m.at,
        "site": "yes" if m.site else None,
    }
    return [said.get(column) for column, _ in _MEASURE]


def _units(quantity: str, system: System) -> tuple[str, ...]:
    known = schema.QUANTITIES[quantity]
    names = ("Pa", "mbar", "micron") if known.reference == "absolute" else units.names(known.family)
    return tuple(dict.fromkeys((bench_plan.first_unit(quantity, system), *names)))


def _rules(page: Page, choices: tuple[str, ...], *, meter: bool) -> None:
    """What may stand in the cells of a reading; `meter`: open and short are readings of it."""
    if choices:
        page.choose("unit", choices, must=False)
    page.rule("value", Field("value") if meter else _NUMBER, hint=_OPEN_OR_SHORT if meter else "")
    page.choose("temperature_unit", units.names("temperature"), must=False)
    for column in ("temperature", "accuracy", "test_voltage", "gas", "absolute", "time", "at", "site", "between"):
        page.rule(column, _field("readings", column))


def _statements(cells: Cells) -> None:
    page = cells.page("statements", (("claim", 0), (prepared.STEP, 6), ("by", 24), ("text", 90)), _HINTS)
    for _ in range(_SPARE_STATEMENTS):
        page.row((None, "+", None, None))
        page.rule("by", _field("statements", "by"))
        page.rule("text", _field("statements", "text"))
