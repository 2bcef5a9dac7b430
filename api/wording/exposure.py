"""Which positions stand without cover, and what is not known about them."""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from api.wording.figures import Sentence, counted

SENTENCES: dict[str, Sentence] = {
    "nothing_serves_position": _(
        "No item in the catalogue serves {position}: it is not known what would be ordered for it."
    ),
    "days_to_next_piece_not_known": _("When more of {item} can be here is not known: enter its lead time."),
    "demand_of_position_not_known": _(
        "{position} is not in use, or its part is not known, so its demand is not known."
    ),
    "chance_not_calculated_yet": _(
        "The demand of {position} is not calculated yet: the next stocking run does it."
    ),
    "chance_unserved": _(
        "{position} needs a piece within {days:.0f} days with a chance of {chance_of_demand:.1%}, and none is left for it with a"
        " chance of {chance:.2g}. Available: {available:,}."
    ),
    "chance_unserved_at_most": _(
        "{position} needs a piece within {days:.0f} days with a chance of {chance_of_demand:.1%}, and none is left for it with a"
        " chance of {chance:.2g} at most: too many parts are shared for an exact figure. Available: {available:,}."
    ),
    "cover_not_calculated": _(
        "It is not calculated yet which item serves which position: start a stocking run first."
    ),
    "demand_not_calculated": _(
        "The demand is not calculated yet, so its cost is missing here: start a stocking run first."
    ),
    "demand_as_of_run": _("The demand is that of the stocking run of {as_of}."),
    "demand_older_than_record": _(
        "The demand is that of the stocking run of {as_of}; some requests or installations recorded since then are not in it."
    ),
    "no_piece_available": _("{item} is not available in any storeroom: nobody is exposed by it."),
    "chances_not_calculated_yet": counted(
        ngettext_lazy(
            "The chance of {positions:,} position is not calculated yet: the next stocking run does it.",
            "The chances of {positions:,} positions are not calculated yet: the next stocking run does it.",
            "positions",
        ),
        "positions",
    ),
    "hours_to_wait_not_known": counted(
        ngettext_lazy(
            "{positions:,} position without known hours to a delivery is listed after those with a cost, by chance times cost per"
            " hour.",
            "{positions:,} positions without known hours to a delivery are listed after those with a cost, by chance times cost"
            " per hour.",
            "positions",
        ),
        "positions",
    ),
    "downtime_costs_not_known": counted(
        ngettext_lazy(
            "{positions:,} position without a downtime cost is listed after those with one, by criticality.",
            "{positions:,} positions without a downtime cost are listed after those with one, by criticality.",
            "positions",
        ),
        "positions",
    ),
    "chances_not_known": counted(
        ngettext_lazy(
            "{positions:,} position whose chance is not known is listed last, with what is missing.",
            "{positions:,} positions whose chance is not known are listed last, each with what is missing.",
            "positions",
        ),
        "positions",
    ),
    "demand_not_known_counted_as_none": counted(
        ngettext_lazy(
            "{positions:,} of them could take a piece that serves others too: it counts there as if it needed none, so their"
            " chances may be higher.",
            "{positions:,} of them could take pieces that serve others too: they count there as if they needed none, so those"
            " chances may be higher.",
            "positions",
        ),
        "positions",
    ),
}
