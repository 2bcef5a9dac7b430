"""Why a Weibull fit says what it says, and what it cannot say."""

from collections.abc import Mapping

from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from api.wording.figures import Sentence, Shown


def _interval(values: Mapping[str, Shown]) -> str:
    if values["shape_high"]:
        text = _now("the {confidence_percent:g} % interval, {shape_low:.3g} to {shape_high:.3g},")
    else:
        text = _now("the {confidence_percent:g} % interval, {shape_low:.3g} or more,")
    return text.format(**values)


def parts_wear_out(values: Mapping[str, Shown]) -> str:
    text = _now("The parts wear out: the shape is {shape:.3g} and {interval} lies above 1.")
    return text.format(shape=values["shape"], interval=_interval(values))


def parts_fail_early(values: Mapping[str, Shown]) -> str:
    text = _now("The parts fail early: the shape is {shape:.3g} and {interval} lies below 1.")
    return text.format(shape=values["shape"], interval=_interval(values))


def parts_fail_at_random(values: Mapping[str, Shown]) -> str:
    text = _now(
        "No effect of age is shown: the shape is {shape:.3g} and {interval} includes 1, which is random failure."
    )
    return text.format(shape=values["shape"], interval=_interval(values))


def too_few_failures_for_shape(values: Mapping[str, Shown]) -> str:
    text = ngettext(
        "Only {failures:g} failure was observed: the shape {shape:.3g} is a guess, and {interval} says little.",
        "Only {failures:g} failures were observed: the shape {shape:.3g} is a guess, and {interval} says little.",
        1 if values["failures"] == 1 else 2,
    )
    return text.format(failures=values["failures"], shape=values["shape"], interval=_interval(values))


def failures_only_at_longest_life(values: Mapping[str, Shown]) -> str:
    text = ngettext(
        "The only failure came at the longest life, {hours:g} h: no shape can be estimated.",
        "All {failures} failures came at the longest life, {hours:g} h: no shape can be estimated.",
        values["failures"],
    )
    return text.format(**values)


SENTENCES: dict[str, Sentence] = {
    "parts_wear_out": parts_wear_out,
    "parts_fail_early": parts_fail_early,
    "parts_fail_at_random": parts_fail_at_random,
    "too_few_failures_for_shape": too_few_failures_for_shape,
    "no_failures_observed": _(
        "No failure was observed: the hours run give an upper bound of the failure rate, but no distribution."
    ),
    "failures_only_at_longest_life": failures_only_at_longest_life,
    "inspections_too_far_apart": _(
        "One life of {hours:g} h would explain all observations: the inspections are too far apart to estimate a shape."
    ),
    "failed_parts_no_older_than_running": _(
        "The parts found failed were no older than those still running: no wear-out is shown, and no distribution fits."
    ),
    "likelihood_without_maximum": _("The likelihood has no clear maximum: no shape can be estimated."),
    "scale_not_estimable": _("The best fit shows no effect of age: no scale can be estimated."),
    "mean_life_at_least": _(
        "If failures are random, the mean life is at least {hours:,.0f} h ({confidence_percent:g} % confidence)."
    ),
    "shape_without_upper_bound": _("The shape has no upper bound from these lives."),
    "scale_without_upper_bound": _("The scale has no upper bound from these lives."),
    "mean_life_beyond_numbers": _("The mean life is too long to be given as a number."),
    "group_unlike_others": _(
        "Group {group} ({failures:g} failures in {exposure:g}, rate {rate:.3g}) is unlike the others (p = {p_value:.2g}):"
        " do not pool it with them."
    ),
    "rates_fall_with_exposure": _(
        "Rates fall with exposure (p = {p_value:.2g}): groups that run much and little are not alike."
    ),
    "rates_rise_with_exposure": _(
        "Rates rise with exposure (p = {p_value:.2g}): groups that run much and little are not alike."
    ),
}
