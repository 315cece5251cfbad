"""What the bench workbook shows: teardown order, cautions first, choices, limits."""

from typing import Any

from stripdown import vocabulary
from stripdown.knowledge import load
from stripdown.limits import load_sheets
from stripdown.pages.bench_workbook import sheet_workbook
from stripdown.record import schema, units
from tests.pages.workbooks import blank, opened, rows


def test_every_caution_stands_before_the_rows_of_its_step_and_steps_are_in_order() -> None:
    book, steps = opened(blank()), load(None).steps
    assert load(None).general_caution in " ".join(str(c.value) for row in book["read first"]["A1:A3"] for c in row)
    assert book.sheetnames[0] == "read first"
    for name in ("observations", "readings"):
        told: list[int] = []
        for _, row in rows(book[name]):
            value = row["(step)"].value
            if isinstance(value, int):
                assert value == told[-1]
            elif value and "CAUTION" in value:
                number = int(value.split()[0])
                assert steps[number - 1].caution in value
                told.append(number)
        assert told == sorted(set(told))


def test_every_part_condition_and_quantity_is_asked_for_once() -> None:
    book = opened(blank("nobody knows"))
    looks = [(r["part"].value, r["condition"].value) for _, r in rows(book["observations"]) if r["part"].value]
    every = [(p, c) for p, cs in vocabulary.parts().items() for c in cs if c not in ("missing", "wrong_part")]
    assert sorted(looks) == sorted(every)
    asked = {r["quantity"].value for _, r in rows(book["readings"]) if r["quantity"].value}
    assert asked == set(schema.QUANTITIES)


def _choices(book: Any, sheet: str, column: str, row: int) -> tuple[str, ...]:
    names = [c.value for c in book[sheet][1]]
    cell = book[sheet].cell(row, names.index(column) + 1).coordinate
    (rule,) = [d for d in book[sheet].data_validations.dataValidation if cell in d.sqref]
    if rule.formula1.startswith('"'):
        return tuple(rule.formula1.strip('"').split(","))
    title, _, cells = rule.formula1.replace("$", "").rpartition("!")
    return tuple(c.value for (c,) in book[title.strip("'")][cells])


def test_drop_down_lists_hold_what_the_record_takes() -> None:
    book = opened(blank())
    for name, field in {**schema.SECTIONS["unit"], **schema.SECTIONS["history"]}.items():
        if field.kind == "choice" and field.choices:
            assert _choices(book, "returns", name, 2) == tuple(field.choices())
    for number, row in rows(book["readings"]):
        if (quantity := row["quantity"].value) is not None:
            offered = _choices(book, "readings", "unit", number)
            assert offered[0] == row["unit"].value
            assert all(units.lookup(u, schema.QUANTITIES[quantity].family) for u in offered)
    extents = {
        (r["part"].value, r["condition"].value): _choices(book, "observations", "extent", n)
        for n, r in rows(book["observations"])
        if r["part"].value
    }
    assert extents["main_bearing", "worn"] == ("sound", "slight", "heavy", "cannot read", "not looked at")
    assert extents["relief_valve", "lifted"] == ("sound", "yes", "cannot read", "not looked at")
    assert extents["crank", "will_not_turn"] == ("yes", "cannot read", "not looked at")
    spare = max(n for n, _ in rows(book["observations"]))
    assert _choices(book, "observations", "part", spare) == tuple(vocabulary.parts())
    assert "R449A" in _choices(book, "returns", "refrigerant", 2)


def test_limits_and_units_of_both_systems() -> None:
    """70 um limit of the sheet's main bearing: 95 um = 3.74 thou; 24 inHg (class)."""
    for system, play, vacuum in (("si", "at most 0.095 mm", "mbar"), ("us", "at most 3.74 thou", "inHg")):
        told = {r["quantity"].value: r for _, r in rows(opened(blank("K4-150", system))["readings"])}
        assert told["main_bearing_play"]["(limit)"].value == play
        assert told["vacuum_pull_down"]["unit"].value == vacuum


def test_no_text_becomes_a_formula_and_equal_sheets_are_equal_bytes() -> None:
    sheet = load_sheets().for_model('=HYPERLINK("x")\x07')
    raw = sheet_workbook(sheet, load(None))
    assert raw == sheet_workbook(sheet, load(None))
    cells = [c for page in opened(raw).worksheets for row in page.iter_rows() for c in row]
    assert not [c for c in cells if c.data_type == "f"]
    assert any("HYPERLINK" in str(c.value) for c in cells)
