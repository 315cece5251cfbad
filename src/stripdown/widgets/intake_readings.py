"""The readings of one step: what is typed once for all of a quantity, a field for each, the verdict beside it."""

from collections.abc import Callable
from typing import Any, cast

import ipywidgets as w

from stripdown.pages.units import System
from stripdown.record import schema
from stripdown.vocabulary import label
from stripdown.widgets import intake_draft as draft
from stripdown.widgets import intake_plan, intake_words
from stripdown.widgets.intake import Intake
from stripdown.widgets.intake_draft import Slot
from stripdown.widgets.intake_plan import Group
from stripdown.widgets.intake_words import UNSAID

_COMMON = {
    "unit": ("Unit", ""),
    "temperature": ("Temperature of the part", "24, or 75 F"),
    "accuracy": ("Accuracy of the meter", "0.5% + 0.02"),
    "test_voltage": ("Test voltage, V", "500"),
    "gas": ("Gas inside, never under vacuum", ""),
}
_STYLE = {"description_width": "17em"}


class Readings:
    """All readings of the step that the workbook stands at. `changed` is called after each entry."""

    def __init__(self, intake: Intake, groups: list[Group], changed: Callable[[], None]) -> None:
        self.intake = intake
        self.groups = groups
        self._changed = changed
        self._quiet = False
        self._wide = w.Layout(width="auto")
        self._values: list[tuple[Slot, Any, Any]] = []
        self._commons: list[tuple[Group, str, Any]] = []
        self.box = w.VBox([w.VBox(self._group(g), layout=self._wide) for g in groups])
        for box in self.box.children:
            box.add_class("sd-measure")
        self.refresh(groups)

    def refresh(self, groups: list[Group]) -> None:
        """Show what stands, but leave alone what is being typed and means the same; further slots get a row."""
        self._quiet = True
        for box, old, group in zip(self.box.children, self.groups, groups, strict=True):
            box.children += tuple(self._value(group, s) for s in group.slots if s not in old.slots)
        self.groups = groups
        for slot, field, said in self._values:
            stands = self.intake.value_of(slot)
            if draft.shown(draft.typed(field.value, "readings", "value")) != stands:
                field.value = stands
            said.value = intake_words.reading(
                self.intake.judged(slot), self.intake.faults_of(slot), cast(System, self.intake.system)
            )
        for group, name, field in self._commons:
            stands = self.intake.common_of(group, name)
            if isinstance(field, w.Dropdown) and stands not in [value for _, value in field.options]:
                field.options = [*field.options, (stands, stands)]
            if field.value.strip() != stands:
                field.value = stands
        self._quiet = False

    def _group(self, group: Group) -> list[Any]:
        title = label(group.quantity)
        commons = [self._common(group, name) for name in ("unit", *group.extras)]
        common = w.Box(commons, layout=self._wide)
        common.add_class("sd-common")
        return [w.HTML(f"<h4>{title}</h4>"), common, *(self._value(group, slot) for slot in group.slots)]

    def _value(self, group: Group, slot: Slot) -> Any:
        title = f"{label(group.quantity)} {intake_plan.point(slot)}".strip()
        holder = "number, open or short" if group.meter else "number"
        field = w.Text(description=title, placeholder=holder, style=_STYLE, layout=w.Layout(width="26em"))
        said = w.HTML(layout=w.Layout(flex="1 1 16em"))
        field.observe(lambda change: self._typed(group, slot, change["new"]), "value")
        self._values.append((slot, field, said))
        row = w.HBox([field, said], layout=w.Layout(flex_flow="row wrap", width="auto"))
        row.add_class("sd-reading")
        return row

    def _common(self, group: Group, name: str) -> Any:
        title, holder = _COMMON[name]
        how = {"description": f"{title}", "style": {"description_width": "initial"}, "layout": w.Layout(width="auto")}
        if name == "gas":
            gases = schema.SECTIONS["readings"]["gas"].choices
            field: Any = w.Dropdown(options=[(UNSAID, ""), *((g, g) for g in (gases() if gases else ()))], **how)
        elif name == "unit":
            field = w.Combobox(options=group.units, ensure_option=False, **how)
        else:
            field = w.Text(placeholder=holder, **how)
        field.observe(lambda change: self._common_typed(group, name, change["new"]), "value")
        self._commons.append((group, name, field))
        return field

    def _typed(self, group: Group, slot: Slot, text: str) -> None:
        if not self._quiet:
            self.intake.reading(group, slot, text)
            self._changed()

    def _common_typed(self, group: Group, name: str, text: str) -> None:
        if not self._quiet:
            self.intake.common(group, name, text)
            self._changed()
