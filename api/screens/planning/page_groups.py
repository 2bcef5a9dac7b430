"""The pages of stock planning, grouped by what they settle."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

Page = tuple[str, str | Promise]
"""Name of its address, and its words."""


@dataclass(frozen=True)
class PageGroup:
    title: str | Promise
    pages: Sequence[Page]

    @property
    def first(self) -> str:
        return self.pages[0][0]

    def label_of(self, name: str) -> str | Promise | None:
        return dict(self.pages).get(name)


GROUPS = (
    PageGroup(
        _("Decide"),
        (("screens:decisions", _("To decide")), ("screens:budget", _("Budget"))),
    ),
    PageGroup(
        _("Buy"),
        (
            ("screens:buying", _("To buy")),
            ("screens:reorder", _("Reorder list")),
            ("screens:suppliers", _("Suppliers")),
        ),
    ),
    PageGroup(
        _("Risk"),
        (("screens:jobs", _("Jobs")), ("screens:exposure", _("Positions at risk"))),
    ),
    PageGroup(
        _("Results"),
        (
            ("screens:figures", _("Figures")),
            ("screens:changes", _("What changed")),
            ("screens:backtest", _("Back-test")),
        ),
    ),
    PageGroup(
        _("Assortment"),
        (
            ("screens:variety", _("Variety")),
            ("screens:duplicates", _("Duplicates")),
            ("screens:orphans", _("Orphans and holes")),
        ),
    ),
    PageGroup(
        _("Data"),
        (("screens:missing", _("What is missing")), ("screens:measuring", _("What to measure"))),
    ),
    PageGroup(
        _("Terms and rules"),
        (("screens:settings", _("Settings")), ("screens:rules", _("Rules"))),
    ),
)


def group_of(name: str) -> PageGroup:
    return next(group for group in GROUPS if group.label_of(name) is not None)
