"""What the chain inspections of a drive predict."""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from api.wording.figures import Sentence, counted, filled

SLOPE = _(
    "{slope_percent_per_1000_h:.3g} % per 1,000 h ({slope_low:.3g} to {slope_high:.3g}, {confidence:.0%} confidence), {hours}"
)
READINGS = counted(ngettext_lazy("{readings:,} reading", "{readings:,} readings", "readings"), "readings")
CHAINS = counted(ngettext_lazy("{chains:,} chain", "{chains:,} chains", "chains"), "chains")
CURRENT = counted(
    ngettext_lazy("{current_readings:,} reading", "{current_readings:,} readings", "current_readings"),
    "current_readings",
)

SENTENCES: dict[str, Sentence] = {
    "wear_limit_not_known": _("The wear limit of this chain is not known: record the number of teeth."),
    "too_few_wear_readings": filled(
        _("{count} of this drive's chain: a trend needs {needed:,}, two of them of one chain."),
        count=READINGS,
    ),
    "wear_slope_of_current_chain": filled(
        _("The chain in service wears by {slope}, from {count}."),
        slope=lambda values: str(SLOPE).format_map(values),
        count=READINGS,
    ),
    "wear_slope_of_all_chains": filled(
        _(
            "Chains of this drive wear by {slope}, from {count} of {chains_text}; the chain in service has {current_text}."
        ),
        slope=lambda values: str(SLOPE).format_map(values),
        count=READINGS,
        chains_text=CHAINS,
        current_text=CURRENT,
    ),
    "wear_slope_uncertain": _("So few readings support only {reached:.0%} confidence."),
    "hours_by_meter": _("by the meter"),
    "hours_by_calendar": _("by the calendar at {hours_per_year:,} hours a year"),
    "hours_by_calendar_all_year": _(
        "by the calendar, day and night, since its hours per year are not recorded"
    ),
    "meter_not_usable": _("The meter ran backwards or stood still, so the calendar was used."),
    "no_wear_growth": _("The wear does not grow: no limit is in sight."),
    "wear_limit_ahead": _(
        "Inspected every {inspection_interval_days:.0f} days; wear counts as visible from {warning_percent:.3g} %, the limit is"
        " {limit_percent:.3g} %. Last inspection {last_inspection_on}."
    ),
    "wear_limit_chance": _(
        "The chance that the limit is reached by {early_limit_on} is {chance:.0%}: a part is ordered in time for that day."
    ),
    "wear_limit_passed": _(
        "Inspected every {inspection_interval_days:.0f} days; wear counts as visible from {warning_percent:.3g} %, the limit is"
        " {limit_percent:.3g} %. At the last inspection, {last_inspection_on}, the limit was passed."
    ),
}
