"""Filters of a planning list, read from its address; what is not known is a fault and left out."""

import re
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.wording.labels import DEMAND_MODELS, IMPORTANCES
from inventory.models import Storeroom

TO_DECIDE, MISSING_DATA, DECIDED = "waiting", "unanswered", "decided"
LISTS = {
    TO_DECIDE: gettext_lazy("To decide"),
    MISSING_DATA: gettext_lazy("Missing data"),
    DECIDED: gettext_lazy("Decided"),
}
LARGEST_PAGE = 100_000
BEGIN, MORE, LESS, END = "begin", "more", "less", "end"
CHANGES = {
    BEGIN: gettext_lazy("Begin to stock"),
    MORE: gettext_lazy("Keep more"),
    LESS: gettext_lazy("Keep less"),
    END: gettext_lazy("Stock no longer"),
}
AMOUNT = re.compile(r"[0-9]{1,12}([.,][0-9]{1,2})?")


@dataclass(frozen=True)
class ListFilters:
    """`faults` pairs a field with what is wrong with it."""

    storeroom: str = ""
    importance: str = ""
    model: str = ""
    change: str = ""
    limit: Decimal | None = None
    """Of money: what each may tie up more."""
    show: str = TO_DECIDE
    page: int = 1
    faults: tuple[tuple[str, str], ...] = ()

    def address(self, **changes: object) -> str:
        """The same filters with some changed, as the end of an address."""
        filters = replace(self, **changes)  # type: ignore[arg-type]
        return "?" + urlencode(filters._said())

    @property
    def kept(self) -> list[tuple[str, str]]:
        """For a form that asks for the limit."""
        return [(name, value) for name, value in self._said().items() if name not in ("limit", "page")]

    def _said(self) -> dict[str, str]:
        fields = {
            "storeroom": self.storeroom,
            "importance": self.importance,
            "model": self.model,
            "change": self.change,
            "limit": "" if self.limit is None else str(self.limit),
            "show": "" if self.show == TO_DECIDE else self.show,
            "page": "" if self.page == 1 else str(self.page),
        }
        return {name: value for name, value in fields.items() if value}

    @property
    def is_narrowed(self) -> bool:
        return bool(self.storeroom or self.importance or self.model or self.change or self.limit is not None)

    @property
    def title(self) -> str:
        return str(LISTS[self.show])

    @property
    def is_to_decide(self) -> bool:
        return self.show == TO_DECIDE

    @property
    def lists(self) -> list[tuple[str, str, bool, bool]]:
        """Label, address, whether it is shown now, whether it is the one of missing data."""
        return [
            (str(label), self.address(show=show, page=1), show == self.show, show == MISSING_DATA)
            for show, label in LISTS.items()
        ]


def list_filters_of(query: QueryDict, storerooms: list[Storeroom]) -> ListFilters:
    known = {
        "storeroom": {room.code for room in storerooms},
        "importance": set(IMPORTANCES),
        "model": set(DEMAND_MODELS),
        "change": set(CHANGES),
        "show": set(LISTS),
    }
    sent = {name: query.get(name, "").strip() for name in known}
    fault = _("Choose one from the list.")
    faults = tuple((name, fault) for name in known if sent[name] and sent[name] not in known[name])
    right: dict[str, Any] = {name: value for name, value in sent.items() if value in known[name]}
    amount = query.get("limit", "").strip()
    if amount and not AMOUNT.fullmatch(amount):
        faults, amount = (*faults, ("limit", _("Enter an amount such as 500, or leave it empty."))), ""
    right["limit"] = Decimal(amount.replace(",", ".")) if amount else None
    return ListFilters(**right, page=page_number(query.get("page", "")), faults=faults)


def page_number(text: str) -> int:
    is_number = text.isascii() and text.isdigit() and len(text) <= len(str(LARGEST_PAGE))
    return max(int(text), 1) if is_number else 1
