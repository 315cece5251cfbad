"""The explorer on the screen: a thin view on `Explorer`, made of lists to choose from, buttons and bars."""

import tempfile
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

import ipywidgets as w

from stripdown.fleet import Opened
from stripdown.vocabulary import label
from stripdown.widgets import explorer_words as words
from stripdown.widgets import front as browser
from stripdown.widgets.explorer import BARS, PANELS, RECORDS, REST_WORDS, Explorer
from stripdown.widgets.explorer_choice import ALL, ORDERS
from stripdown.widgets.explorer_compare import REST
from stripdown.widgets.explorer_export import save
from stripdown.widgets.explorer_keep import KeptFile
from stripdown.widgets.explorer_life import CURVES
from stripdown.widgets.explorer_looks import looks
from stripdown.widgets.explorer_measure import KINDS, choices
from stripdown.widgets.explorer_table import DIMENSIONS

_STYLE = Path(__file__).with_name("explorer.css")
_ORDER_WORDS = {"returns": "most returns first", "value": "highest value first", "name": "by name"}
_PANEL_WORDS = {"records": "Records", "compare": "Compare", "life": "Life", "incidence": "Incidence"}
_ALL = ""
"""In the list of groups: all chosen together."""
_CHIPS = 12
"""Names kept that have a button of their own; more are let go together."""

PageOf = Callable[[str, str], str]
"""Claim and file of a return → its page in HTML, '' where there is none."""


def workbook(fleet: Opened, *, out: str = "", source: str = "", page_of: PageOf | None = None) -> "View":
    """What the notebook shows, where it stood; `out`: where figures and numbers are saved, '' = a temporary folder.

    `source` names where the returns come from: each has a list of looks of its own.
    """
    for slow in ("scipy.stats", "scipy.optimize", "matplotlib.figure", "matplotlib.backends.backend_svg", "typst"):
        import_module(slow)  # now, and not at the first click that needs it
    folder = Path(out) / "explorer" if out else Path(tempfile.mkdtemp(prefix="stripdown-"))
    explorer, kept = Explorer(fleet), KeptFile(folder, source)
    kept.take_up(explorer)
    return View(explorer, folder, page_of or (lambda claim, file: ""), kept)


def front() -> tuple[Any, Any]:
    """Style and scripts of the workbook, to be displayed before it."""
    return browser.front(f"<style>{_STYLE.read_text(encoding='utf-8')}</style>")


class View:
    """Question, bars, and what stands behind them; widgets are made once and filled anew, so that focus stays."""

    def __init__(self, explorer: Explorer, folder: Path, page_of: PageOf, kept: KeptFile | None = None) -> None:
        self.explorer = explorer
        self._folder, self._page_of, self._kept_file = folder, page_of, kept
        self._sure = self._pressed_before = False
        self._quiet = False
        self._kept_by = "model"
        self._page_shown: int | None = None
        self.head, self.told, self.title = w.HTML(), w.HTML(), w.HTML()
        self.kind = self._list("Measure", lambda v: self._ask(v, None))
        self.of = self._list("Of", lambda v: self._ask(self.kind.value, v))
        self.by = self._list("By", explorer.group)
        self.order = self._list("Order", explorer.arrange)
        self.kept_by = self._list("Keep only", self._turn_kept_by)
        self.name = self._list("Named", lambda v: None)
        self.keep = self._button("Keep", lambda: explorer.keep(self._kept_by, self.name.value or ""))
        self.chips = [self._button("", self._letting_go(i)) for i in range(_CHIPS)]
        self.all_again = self._button("All again", explorer.let_all_go)
        self.inside = self._list("Look into", self._look_into)
        self.against = self._list("Against", explorer.against)
        self.tabs = {p: self._button(_PANEL_WORDS[p], self._showing(p)) for p in PANELS}
        self.save = self._button("Save", self._save)
        self.rows = [Row(self._button("", self._opening(i))) for i in range(BARS)]
        self.bar_pages = Pages(self._button, explorer.turn_bars, "groups")
        self.compare = self._button("Compare and count the look", explorer.compare, "sd-main")
        self.each = self._button("", explorer.compare_each)
        self.forget = self._button("", self._forget)
        self.looks, self.curves, self.behind, self.page = w.HTML(), w.HTML(), w.HTML(), w.HTML()
        self.records = [self._button("", self._opening_record(i)) for i in range(RECORDS)]
        self.back = self._button("◀ Back to the records", explorer.close_record, "sd-main", "sd-onward")
        self.record_pages = Pages(self._button, explorer.turn_records, "records")
        self.box = self._laid_out()
        self.refresh()

    def _laid_out(self) -> Any:
        question = _box(w.HBox, "sd-steer", self.kind, self.of, self.by, self.order)
        kept = _box(w.HBox, "sd-steer", self.kept_by, self.name, self.keep, *self.chips, self.all_again)
        into = _box(w.HBox, "sd-steer", self.inside, self.against, *self.tabs.values(), self.save)
        self._bars = _box(w.VBox, "sd-bars", *(r.box for r in self.rows), self.bar_pages.box)
        self._compared = _box(w.VBox, "sd-panel", self.compare, self.each, self.looks, self.forget)
        self._listed = _box(w.VBox, "sd-panel", self.behind, *self.records, self.record_pages.box)
        self._listed.add_class("sd-records")
        self._listed.add_class("sd-onward")
        body = _box(w.HBox, "sd-body", self._bars, self._compared, self._listed)
        self._record = _box(w.VBox, "sd-record", self.back, self.page)
        shown = (self.told, self.title, body, self.curves, self._record)
        box = _box(w.VBox, "sd-explorer", self.head, question, kept, into, *shown)
        box.add_class("stripdown-workbook")
        return box

    # what a click does

    def _list(self, description: str, act: Callable[[Any], None]) -> Any:
        chosen = w.Dropdown(description=description, style={"description_width": "auto"})
        chosen.observe(lambda change: None if self._quiet else self._do(lambda: act(change["new"])), "value")
        return chosen

    def _button(self, title: str, act: Callable[[], None], *classes: str) -> Any:
        button = w.Button(description=title)
        button.on_click(lambda _: self._do(act))
        for name in classes:
            button.add_class(name)
        return button

    def _do(self, act: Callable[[], None]) -> None:
        self.told.value, self.explorer.refused = "", None
        self._pressed_before, self._sure = self._sure, False
        act()
        self.refresh()
        if self._kept_file is not None and (why := self._kept_file.save(self.explorer)):
            self.told.value = words.said(f"Your looks are not kept: {why}")

    def _ask(self, kind: str, of: str | None) -> None:
        """A kind of which something must be chosen begins with the first there is."""
        there = choices(self.explorer.choice.table, kind)
        self.explorer.ask(kind, of if of is not None and of in there else there[0] if there else "")

    def _turn_kept_by(self, dimension: str) -> None:
        self._kept_by = dimension

    def _letting_go(self, place: int) -> Callable[[], None]:
        return lambda: self.explorer.let_go(*self._kept()[place]) if place < len(self._kept()) else None

    def _kept(self) -> list[tuple[str, str]]:
        return [(d, n) for d, names in self.explorer.choice.kept for n in names]

    def _look_into(self, name: str) -> None:
        if name == _ALL:
            self.explorer.close()
        else:
            self.explorer.open(name)

    def _showing(self, panel: str) -> Callable[[], None]:
        return lambda: self.explorer.show(panel)

    def _opening(self, place: int) -> Callable[[], None]:
        def act() -> None:
            if place < len(self.explorer.bars):
                name = self.explorer.bars[place].name
                self._look_into(_ALL if name == self.explorer.opened else name)

        return act

    def _opening_record(self, place: int) -> Callable[[], None]:
        def act() -> None:
            if place < len(self.explorer.records):
                self.explorer.open_record(self.explorer.records[place])

        return act

    def _forget(self) -> None:
        """Only when pressed twice: a list of looks is not made again."""
        if self._pressed_before:
            self.explorer.forget_looks()
        else:
            self._sure = True

    def _save(self) -> None:
        said = save(self.explorer, self._folder)
        self.told.value = words.said(said)

    # what is shown

    def refresh(self) -> None:
        """Show the explorer as it stands."""
        explorer, choice = self.explorer, self.explorer.choice
        self._quiet = True
        self.head.value = words.head(explorer)
        if explorer.refused:
            self.told.value = words.said(explorer.refused, refused=True)
        self.title.value = words.title(explorer)
        of = choices(choice.table, choice.measure.kind)
        there = [k for k in KINDS if not KINDS[k].of or choices(choice.table, k)]
        _fill(self.kind, [(KINDS[k].words, k) for k in there], choice.measure.kind)
        _fill(self.of, [(label(o), o) for o in of], choice.measure.of if of else None)
        _shown(self.of, bool(of))
        _fill(self.by, [(t, d) for d, t in DIMENSIONS.items()], choice.by)
        _fill(self.order, [(_ORDER_WORDS[o], o) for o in ORDERS], choice.order)
        _fill(self.kept_by, [(t, d) for d, t in DIMENSIONS.items()], self._kept_by)
        names = choice.names(self._kept_by)
        stays = self.name.value if self.name.value in names else names[0] if names else None
        _fill(self.name, [(words.name_words(self._kept_by, n), n) for n in names], stays)
        groups = [(words.name_words(choice.by, g), g) for g in choice.groups]
        _fill(self.inside, [(ALL, _ALL), *groups], explorer.opened or _ALL)
        others = [g for g in groups if g[1] != explorer.opened]
        _fill(self.against, [(REST_WORDS, REST), *(others if explorer.opened is not None else [])], explorer.rest)
        self._quiet = False
        self._refresh_chips()
        self._refresh_bars()
        self._refresh_panel()

    def _refresh_chips(self) -> None:
        kept = self._kept()
        for i, chip in enumerate(self.chips):
            _shown(chip, i < len(kept))
            if i < len(kept):
                d, name = kept[i]
                chip.description = f"✕ {DIMENSIONS[d]}: {words.name_words(d, name)}"
        _shown(self.all_again, bool(kept))

    def _refresh_bars(self) -> None:
        explorer, choice = self.explorer, self.explorer.choice
        bars = [] if choice.silent else explorer.bars
        top = words.scale(bars, choice)
        for row, bar in zip(self.rows, [*bars, *[None] * (BARS - len(bars))], strict=True):
            _shown(row.box, bar is not None)
            if bar is not None:
                _marked(row.button, words.name_words(choice.by, bar.name), bar.name == explorer.opened)
                row.track.value = words.track(bar, choice, top)
        self.bar_pages.refresh(explorer.bar_page, len(choice.groups) if bars else 0, BARS)

    def _refresh_panel(self) -> None:
        explorer = self.explorer
        panel = explorer.panel
        for name, tab in self.tabs.items():
            _marked(tab, _PANEL_WORDS[name], name == panel)
        curved, read = panel in CURVES, panel == "records" and explorer.record is not None
        for box in (self.title, self._bars):
            _shown(box, not curved and not read)
        _shown(self._compared, panel == "compare")
        _shown(self._listed, panel == "records" and not read)
        _shown(self._record, read)
        _shown(self.curves, curved)
        if curved:
            self.curves.value = words.curves(explorer, panel, drawn=False)  # numbers at once, the drawing when ready
            self.curves.value = words.curves(explorer, panel)
        elif panel == "compare":
            self.looks.value = looks(explorer)
            by, number = DIMENSIONS[explorer.choice.by], len(explorer.looks)
            self.each.description = f"Compare each {by} against all others"
            self.forget.description = (
                f"Press again to forget {number} looks" if self._sure else "Begin a new list of looks"
            )
            _shown(self.forget, number > 0)
        else:
            self._refresh_records()

    def _refresh_records(self) -> None:
        explorer = self.explorer
        self.behind.value = words.behind(explorer)
        for i, button in enumerate(self.records):
            there = i < len(explorer.records)
            _shown(button, there)
            if there:
                button.description = words.record_line(explorer, explorer.records[i])
        self.record_pages.refresh(explorer.record_page, len(explorer.rows), RECORDS)
        if explorer.record != self._page_shown:
            self._page_shown = explorer.record
            self.page.value = "" if explorer.record is None else self._page(explorer.record)

    def _page(self, row: int) -> str:
        r = self.explorer.choice.table.returns.iloc[row]
        page = self._page_of(str(r["claim"]), str(r["file"]))
        shown = words.frame(page, str(r["claim"])) if page else "<p>No page of it lies beside these results.</p>"
        return words.record_facts(self.explorer, row) + shown


class Row:
    """A bar: its name to press, and its track."""

    def __init__(self, button: Any) -> None:
        self.button, self.track = button, w.HTML()
        self.box = _box(w.HBox, "sd-row", button, self.track)


class Pages:
    """Back and on through a long list."""

    def __init__(self, button: Callable[..., Any], turn: Callable[[int], None], what: str) -> None:
        self._what = what
        self.back, self.on, self.where = (
            button(f"◀ {what}", lambda: turn(-1)),
            button(f"{what} ▶", lambda: turn(1)),
            w.HTML(),
        )
        self.box = _box(w.HBox, "sd-pages", self.back, self.on, self.where)

    def refresh(self, page: int, number: int, size: int) -> None:
        """Where one is; nothing to press where all is on show."""
        _shown(self.box, number > size)
        self.back.disabled, self.on.disabled = page == 0, (page + 1) * size >= number
        self.where.value = words.pages(page, number, size, self._what)


def _box(kind: Any, name: str, *children: Any) -> Any:
    made = kind(children)
    made.add_class(name)
    return made


def _fill(chosen: Any, options: Sequence[tuple[str, Any]], value: Any) -> None:
    """Only what differs is sent, so that an open list stays open."""
    if tuple(chosen.options) != tuple(options):
        chosen.options = options
    if chosen.value != value:
        chosen.value = value


def _marked(button: Any, title: str, opened: bool) -> None:
    """Open or not, by a mark as wide either way, so that nothing moves under the finger."""
    button.description = f"{'▶' if opened else '▷'} {title}"
    button.remove_class("sd-open")
    if opened:
        button.add_class("sd-open")


def _shown(widget: Any, yes: bool) -> None:
    widget.layout.display = None if yes else "none"
