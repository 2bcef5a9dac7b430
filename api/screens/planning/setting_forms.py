"""What a manager sets, as plain forms: each sends the change of one record to the API."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.db import models
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from api.wording.labels import IMPORTANCES, label
from drives.models import Drive, Plant
from inventory.interchange.vocabulary import Operation
from inventory.models import Importance, Item, ServiceTarget, ShopTime, StockingTerms

TERMS, DRIVES, ITEMS = "terms", "drives", "items"
TARGETS, PLANTS, SHOP_TIMES = "targets", "plants", "shop-times"


@dataclass(frozen=True)
class SettingOnPage:
    """`address` begins the names of the requests; `key` names the record in them, empty where there is only one."""

    title: str | Promise
    model: type[models.Model]
    address: str
    key: str
    fields: str
    effect: str | Promise
    keys: tuple[str, ...] = ()
    """Those that there may be, recorded or not; empty: only what is recorded can be set."""
    record_key: str = ""
    """Where the column has another name than the member of the API."""

    @property
    def column(self) -> str:
        return self.record_key or self.key

    @property
    def field_names(self) -> list[str]:
        return self.fields.split()


SETTINGS: dict[str, SettingOnPage] = {
    TARGETS: SettingOnPage(
        _("Service target"),
        ServiceTarget,
        "service-target",
        "importance",
        "kind value tolerable_wait_hours note",
        _("It counts from the next calculation on."),
        tuple(word.value for word in Importance),
    ),
    TERMS: SettingOnPage(
        _("Stocking terms"),
        StockingTerms,
        "stocking-terms",
        "",
        "holding_rate_per_year order_cost currency hours_to_expedite planning_days staging_days chain_joints worst_grade",
        _("They count from the next calculation on; the readiness of jobs follows at once."),
    ),
    PLANTS: SettingOnPage(
        _("Approval of substitutes"),
        Plant,
        "plant",
        "code",
        "substitute_approval substitute_approver substitute_approver_phone",
        _("It counts for every unit that is fitted from now on."),
    ),
    SHOP_TIMES: SettingOnPage(
        _("Shop time"),
        ShopTime,
        "shop-time",
        "operation",
        "minutes basis note",
        _("Every answer counts with it from now on."),
        tuple(word.value for word in Operation),
    ),
    DRIVES: SettingOnPage(
        _("Cost of a stop and criticality"),
        Drive,
        "drive",
        "tag",
        "criticality downtime_cost_per_hour currency",
        _("It counts from the next calculation on."),
    ),
    ITEMS: SettingOnPage(
        _("Insurance, price and lead time"),
        Item,
        "item",
        "id",
        "holding_reason stocked unit_cost currency lead_time_days",
        _("It counts from the next calculation on; what it is worth follows at once."),
        record_key="stock_number",
    ),
}
LABELS: dict[str, tuple[Promise, Promise | str]] = {
    "kind": (_("Promise"), ""),
    "value": (
        _("Target"),
        _("Between 0 and 1: 0.95 is 95 of 100. Not used where the promise is least cost."),
    ),
    "tolerable_wait_hours": (_("Acceptable stop, hours"), _("Empty: none is.")),
    "note": (_("Note"), ""),
    "holding_rate_per_year": (
        _("Holding a piece for a year"),
        _("As a share of its price: 0.2 is a fifth."),
    ),
    "order_cost": (_("Cost of one order line"), _("Empty: not known, so every order is for one piece.")),
    "currency": (_("Currency"), _("Three letters, such as EUR.")),
    "hours_to_expedite": (
        _("Emergency delivery, hours"),
        _("From the stop to the delivery. Empty: from past emergency orders."),
    ),
    "planning_days": (_("From seeing wear to sending the order, days"), ""),
    "staging_days": (_("Parts are there before a job, days"), ""),
    "chain_joints": (
        _("Joints allowed in a chain"),
        _("Beside the one that closes it. 0: every chain is one piece."),
    ),
    "worst_grade": (_("Counts as a substitute in stock"), _("Up to this grade.")),
    "substitute_approval": (
        _("Approval by another person"),
        _("Of a unit that needs review or does not fit."),
    ),
    "substitute_approver": (
        _("Who may approve"),
        _("Name or role. Fitting sheets and emergency sheets name it, with the telephone."),
    ),
    "substitute_approver_phone": (_("Telephone of who may approve"), _("At night too.")),
    "minutes": (_("Minutes"), ""),
    "basis": (_("Comes from"), ""),
    "criticality": (_("Criticality"), ""),
    "downtime_cost_per_hour": (_("Cost of an hour's stop"), _("Empty: not known.")),
    "holding_reason": (_("Stocked for"), _("Insurance: it may lie for years, and is no excess.")),
    "stocked": (_("Stock item"), ""),
    "unit_cost": (_("Price of one"), _("Empty: not known.")),
    "lead_time_days": (_("Lead time, days"), _("From order to receipt. Empty: not known.")),
}


def name_of_setting(kind: str, key: str) -> str:
    """In words; the terms need no name, as there are only these."""
    if kind == TARGETS:
        return str(IMPORTANCES[key])
    if kind == TERMS:
        return ""
    return label(Operation(key)) if kind == SHOP_TIMES else key


class SettingOnPageForm(forms.Form):
    """Reads what was typed; whether it may be is for the API to say."""

    def __init__(
        self, setting: SettingOnPage, data: Mapping[str, Any] | None, initial: Mapping[str, Any]
    ) -> None:
        super().__init__(data, initial=dict(initial), auto_id="setting-%s", label_suffix="")
        for name in setting.field_names:
            column: Any = setting.model._meta.get_field(name)
            field = column.formfield()
            label, help_text = LABELS[name]
            field.label, field.help_text = label, help_text
            # What is left empty is for the API to judge, and to say at its field.
            field.required = False
            field.validators = []
            if isinstance(field, forms.DecimalField | forms.FloatField | forms.IntegerField):
                field.widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
            self.fields[name] = field
        self.nullable = {
            name
            for name in setting.field_names
            if getattr(setting.model._meta.get_field(name), "null", False)
        }

    def asked(self, name: str) -> str:
        """As an address says it; a box that is not ticked is said too."""
        value = self.cleaned_data.get(name)
        return "" if value is None else str(value)

    def body(self) -> dict[str, Any]:
        """As JSON has it: nothing is null where the record may hold none, and left out where it may not."""
        found: dict[str, Any] = {}
        for name, value in self.cleaned_data.items():
            if value is None and name not in self.nullable:
                continue
            found[name] = str(value) if isinstance(value, Decimal) else value
        return found

    def take_refusal(self, problem: Mapping[str, Any]) -> None:
        rows = problem.get("errors") or [{"pointer": "", "detail": problem.get("detail", "")}]
        for row in rows:
            name = row["pointer"].strip("/").partition("/")[0]
            self.add_error(name if name in self.fields else None, row["detail"])
