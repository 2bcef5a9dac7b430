"""What is meant by the figures that a manager asks for."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from api.wording import manager_figures
from api.wording.term import Term

BASES: dict[str, tuple[str | Promise, str | Promise]] = {
    "stock_value": (
        _("On hand times today's price, for each item and storeroom. As it is now."),
        _("Look at excess and dead stock first: there money lies without use."),
    ),
    "issued": (
        _("Movements between the two days, at today's price."),
        _("Compare with the time before: a rise has a drive behind it."),
    ),
    "written_off": (_("Movements between the two days, at today's price."), _("Ask why of the largest.")),
    "count_corrections": (
        _("Counts between the two days. Number and share say how far the books can be trusted."),
        _("Many in one storeroom: issues are not booked at once."),
    ),
    "false_fits": (
        _(
            "Issues with a verdict between the two days, and returns of them with the reason that "
            "they did not fit."
        ),
        _("Answer the question about fit of each: what was measured corrects the record."),
    ),
    "stockouts": (
        _("Jobs with a request between the two days."),
        _("Look whether a recommendation for these items waits."),
    ),
    "stockouts_without_substitutes": (_("The difference from the line above is what substitutes saved."), ""),
    "filled_vital": (
        _("Share of jobs between the two days, by the class of the drive."),
        _("Below its target: open the rows, and decide what waits for these items."),
    ),
    "filled_essential": (_("Share of jobs between the two days, by the class of the drive."), ""),
    "filled_desirable": (_("Share of jobs between the two days, by the class of the drive."), ""),
    "filled_without_class": (
        _("Share of jobs between the two days, by the class of the drive."),
        _("Give these drives a class."),
    ),
    "excess": (
        _("Of the items with a policy; value at today's price. As it is now."),
        _("Send it to a storeroom that needs it, or use it up before you order."),
    ),
    "dead_stock": (
        _("From the verdicts of the last stocking run; value at today's price."),
        _("Offer it to another plant, or write it off."),
    ),
    "insurance": (
        _("Items marked as insurance, with the drives in use that they can serve. As it is now."),
        _("One that protects no drive any more can go."),
    ),
    "late_orders": (
        _("Days since the day promised. As it is now."),
        _("Ask the supplier, and enter the new date."),
    ),
    "emergency_buys": (
        _("Orders between the two days that are marked as an emergency."),
        _("The same item twice: keep one in stock."),
    ),
    "wrong_deliveries": (
        _("Deliveries checked between the two days."),
        _("See which supplier it is on the page of suppliers."),
    ),
    "wear_due": (
        _("From the inspections of each chain, at its speed of wear so far."),
        _("Order chain and sprockets, and plan the change for the next stop."),
    ),
    "jobs_not_ready": (
        _("Open jobs that say which parts they need. As it is now."),
        _("The page of jobs says what to order by when."),
    ),
}
"""How each is counted and from when, and what to do about it."""


def _meaning(name: str) -> str | Promise:
    if name.startswith("filled_"):
        return _("Jobs that got all they requested, for drives of this class.")
    if name == "wear_due":
        return _("Positions whose chain reaches its wear limit within the days asked for.")
    said = manager_figures.SENTENCES[f"figure_{name}"]
    assert isinstance(said, str | Promise)
    return said


FIGURE_TERMS = [
    Term(f"figure-{name}", words, _meaning(name), *BASES[name])
    for name, words in manager_figures.FIGURE_TITLES.items()
]
