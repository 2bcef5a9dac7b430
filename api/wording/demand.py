"""Why the demand for a part is what it is: its model, its prior, its importance, and what can stand in for it."""

from collections.abc import Mapping

from django.utils.translation import gettext, ngettext_lazy
from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence, Shown, counted, filled

SHAPE = _("shape {shape:.3g} ({shape_low:.3g} to {shape_high:.3g})")
JOBS = counted(
    ngettext_lazy("{requests:,} unplanned request", "{requests:,} unplanned requests", "requests"), "requests"
)
POSITIONS = counted(ngettext_lazy("1 position", "{positions:,} positions", "positions"), "positions")

MODEL: dict[str, Sentence] = {
    "no_demand_on_record": _(
        "No position served from this storeroom is known to need it, and there were no requests in {record_years:.3g} years of"
        " record."
    ),
    "only_planned_demand": _(
        "No position served from this storeroom is known to need it, and in {record_years:.3g} years of record it was requested for planned"
        " work only."
    ),
    "monthly_demand_several_pieces": _(
        "{requests:,} unplanned requests in {record_years:.3g} years, in {months:,} different months and sometimes for several"
        " pieces: monthly demand is used."
    ),
    "monthly_demand_without_position": _(
        "{requests:,} unplanned requests in {record_years:.3g} years, in {months:,} different months and mostly without a position"
        " in use that needs it: monthly demand is used."
    ),
    "demand_fading": _(
        "It has not been requested for much longer than usual and may be going out of use, so the forecast fades (TSB)."
    ),
    "requests_of_positions": filled(
        _("{jobs} from {count} in {position_years:.3g} position-years."),
        jobs=JOBS,
        count=POSITIONS,
    ),
    "requests_besides_positions": filled(
        _("{jobs} besides from no position that needs it now, counted too."), jobs=JOBS
    ),
    "requests_for_positions": filled(
        _("{jobs} in {record_years:.3g} years of record, for {count}: it is counted by its requests."),
        jobs=JOBS,
        count=POSITIONS,
    ),
    "requests_without_position": filled(
        _("{jobs} in {record_years:.3g} years of record, none of them for a position."), jobs=JOBS
    ),
    "pieces_per_job": _(
        "A job took {least:,} to {most:,} pieces: jobs are counted, and each takes pieces as the jobs on record did. That these"
        " are few is included."
    ),
    "chain_counted_in_jobs": _(
        "Chain is counted in jobs of {links_per_job} links: {jobs} on record took {shortest_links} to {longest_links} links, and"
        " {job_share:.0%} of jobs need no more than {links_per_job}. Stock is what whole jobs can be cut from, and the levels are"
        " multiples of a job."
    ),
    "no_mechanism_recorded": _(
        "No failure mechanism is recorded for any unit, so all ends are taken as wear."
    ),
    "wear_shown": filled(
        _(
            "{failures:,} units wore out and {suspensions:,} did not, which is enough for a Weibull distribution. The {shape_text}"
            " lies above 1, so age matters. What so few lives leave open is included."
        ),
        shape_text=lambda values: str(SHAPE).format_map(values),
    ),
    "too_few_worn_out": counted(
        ngettext_lazy(
            "{failures:,} unit is known to have worn out: too few for a distribution of lives, so requests are counted.",
            "{failures:,} units are known to have worn out: too few for a distribution of lives, so requests are counted.",
            "failures",
        ),
        "failures",
    ),
    "no_wear_distribution_fits": _(
        "No Weibull distribution fits the lives, so requests are counted. {reason}"
    ),
    "no_age_effect_shown": filled(
        _("The lives do not show that age matters: {shape_text}. So requests are counted."),
        shape_text=lambda values: str(SHAPE).format_map(values),
    ),
    "requests_accelerate": _(
        "{position} needs it more and more often ({requests:,} times): check the drive, not only the stock."
    ),
}

PRIOR: dict[str, Sentence] = {
    "family_of_pitch": _(
        "{role:words} sprockets of pitch {pitch_mm:size} in {surroundings:words} surroundings"
    ),
    "family_of_surroundings": _("{role:words} sprockets in {surroundings:words} surroundings"),
    "family_of_role": _("{role:words} sprockets"),
    "family_of_all_sprockets": _("all sprockets"),
    "family_without_position": _("{kind:words} without a position"),
    "prior_from_family": _(
        "{pools:,} parts of the same family ({family}) give a prior worth {events:.3g} requests in {years:.3g} years."
    ),
    "prior_from_common_rate": _(
        "{pools:,} parts of the same family ({family}) differ no more than by chance: one rate holds for all, {rate_per_year:.3g}"
        " a year."
    ),
    "prior_half_event_at_mean_rate": _(
        "The prior is worth {events:.3g} requests at the plant's mean rate. {why}"
    ),
    "prior_half_event_alone": _(
        "It is requested more often than others of its kind (p = {p_value:.2g}), so only its own requests count, and {events:.3g}"
        " more for what so few leave open."
    ),
    "prior_half_event_in_years_of_others": _(
        "The prior is worth {events:.3g} requests in the {years:.3g} years of others of its kind. {why}"
    ),
    "family_not_alike": _("Its family ({family}) gives none. {caution}"),
    "family_too_small_or_without_demand": counted(
        ngettext_lazy(
            "{pools:,} part of its kind is too few for a family, or it was never requested.",
            "{pools:,} parts of its kind are too few for a family, or they were never requested.",
            "pools",
        ),
        "pools",
    ),
}

IMPORTANCE: dict[str, Sentence] = {
    "importance_without_position": _("No position ever requested it, so its importance is not known."),
    "importance_without_drive_in_use": _(
        "Only drives that are out of use requested it, so its importance is not known."
    ),
    "importance_of_requesting_drive": _(
        "The worst of the drives in use that requested it is {drive} (criticality: {criticality:words})."
    ),
    "importance_of_only_candidate": _(
        "Drive {drive} depends on it (criticality: {criticality:words}): nothing else that is kept can serve there."
    ),
    "importance_lowered_by_substitutes": _(
        "Every position that it serves has another candidate that is kept, so no drive depends on it alone. The worst is {drive}"
        " (criticality: {criticality:words})."
    ),
}

EARLIER = counted(
    ngettext_lazy(
        "{earlier_requests:,} earlier request of it does not count as demand",
        "{earlier_requests:,} earlier requests of it do not count as demand",
        "earlier_requests",
    ),
    "earlier_requests",
)
DAYS = counted(ngettext_lazy("{days:,} day with records", "{days:,} days with records", "days"), "days")
RECORD: dict[str, Sentence] = {
    "estimates_until": _(
        "What all parts share, the prior and the start of the record, is estimated from records up to {last_day}."
    ),
    "record_not_begun": _("There are no records yet."),
    "record_starts_with_first": filled(_("{count} in {years:.3g} years, from the first one on."), count=DAYS),
    "record_starts_where_dense": filled(
        _("{count} in {years:.3g} years, after {earlier_days:,} in the {earlier_years:.3g} years before."),
        count=DAYS,
    ),
    "record_start_set": _("Set by a person for {source:words}. Note: {note}."),
    "record_complete_from": filled(
        _(
            "The record counts as complete from {begins_on}. {basis} {earlier}; what was fitted before still counts as a life."
        ),
        earlier=EARLIER,
    ),
    "record_density_rises": _(
        "From {from_day} there are {later_per_year:.3g} days with records a year, before {earlier_per_year:.3g}: check from when"
        " the record is complete."
    ),
    "record_density_falls": _(
        "From {from_day} there are {later_per_year:.3g} days with records a year, before {earlier_per_year:.3g}: check whether"
        " all requests are still recorded."
    ),
}


def _work(values: Mapping[str, Shown]) -> str:
    text = gettext("{work_minutes:,} minutes of work")
    if values.get("work_basis") == "estimate":
        text = gettext("an estimated {work_minutes:,} minutes of work")
    return text.format_map(values)


SUBSTITUTES: dict[str, Sentence] = {
    "substitute_available": filled(
        _(
            "{item} can serve {count} ({grade:words}): the {pieces:,} kept of it avert a shortage of {averted_pieces:.2g} pieces in a"
            " lead time. They are not counted in the levels."
        ),
        count=POSITIONS,
    ),
    "substitute_after_work": filled(
        _(
            "{item} can serve {count} after {work} ({grade:words}): the {pieces:,} kept of it avert a"
            " shortage of {averted_pieces:.2g} pieces in a lead time. They are not counted in the levels."
        ),
        count=POSITIONS,
        work=_work,
    ),
}

SENTENCES: dict[str, Sentence] = {**MODEL, **PRIOR, **RECORD, **IMPORTANCE, **SUBSTITUTES}
