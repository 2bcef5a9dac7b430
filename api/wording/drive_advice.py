"""Advice on a drive that was calculated."""

from collections.abc import Mapping

from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence, Shown

LUBRICATION_METHODS = {
    "A": _("by hand or drip"),
    "B": _("oil bath or slinger disc"),
    "C": _("oil stream from a pump"),
}
"""ACA lubrication classes; class C prime is for the maker to decide and has no method of its own."""


def _method(letter: str) -> str:
    return str(LUBRICATION_METHODS.get(letter, ""))


def lubrication_not_given(values: Mapping[str, Shown]) -> str:
    text = _now(
        "The rating assumes lubrication of class {needed}, {method}; the lubrication of this drive is not given "
        "(ACA lubrication classes; {confidence})."
    )
    return text.format(
        needed=values["needed"], method=_method(values["needed"]), confidence=values["confidence"]
    )


def lubrication_not_enough(values: Mapping[str, Shown]) -> str:
    text = _now(
        "Lubrication of class {given} is not enough: class {needed}, {method}, is needed "
        "(ACA lubrication classes; {confidence})."
    )
    method = _method(values["needed"])
    return text.format(
        given=values["given"], needed=values["needed"], method=method, confidence=values["confidence"]
    )


SENTENCES: dict[str, Sentence] = {
    "tips_overlap": _(
        "The tips of the teeth overlap: the centres must be more than {minimum_centre_mm:.1mm} apart "
        "(ISO 606, largest tip diameters)."
    ),
    "no_power_at_this_speed": _(
        "No power can be carried at this speed, because the joints would gall ({source})."
    ),
    "chain_overloaded": _(
        "The chain is overloaded: {design_power_kw:.3g} kW design power, {rated_power_kw:.3g} kW rated ({source})."
    ),
    "speed_beyond_galling": _(
        "{speed_rpm:.0f} rev/min is beyond the galling limit of {limit_rpm:.0f} rev/min at this pull: ask the maker "
        "(Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5)."
    ),
    "lubrication_not_checked": _(
        "The lubrication was not checked: no published speed limits of the lubrication classes cover chain {chain}."
    ),
    "lubrication_ask_maker": _(
        "Lubrication class C prime: the chain runs in the galling region, ask the maker ({source})."
    ),
    "lubrication_not_given": lubrication_not_given,
    "lubrication_not_enough": lubrication_not_enough,
    "wrap_too_small": _(
        "The chain wraps {wrap_deg:.0f} degrees of the small sprocket; it should be at least {least_deg:g} "
        "(course texts on chain drives)."
    ),
    "ratio_too_large": _(
        "The ratio of {ratio:.2f} is above {largest_ratio:g}: it costs chain life "
        "(Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5)."
    ),
    "few_teeth": _(
        "{teeth:g} teeth are few unless the drive is very slow: {least_teeth} at least, 19 or 21 run longer and quieter "
        "(Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5)."
    ),
    "many_teeth": _(
        "{teeth:g} teeth are more than the {most_teeth} of standard sprockets "
        "(Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5)."
    ),
    "odd_links": _(
        "{links} links need a cranked link, which carries less than the chain, at a centre of {centre_mm:.1mm}; "
        "{even_links} links were used instead (Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5)."
    ),
    "centre_of_even_links": _(
        "{given_centre_mm:.1mm} would take {links_exact:.2f} links; {links} links are taut at {centre_mm:.1mm} "
        "(exact tangent geometry, ISO 10823)."
    ),
    "links_and_teeth_share_factor": _(
        "{links} links and {teeth:g} teeth share the factor {factor}: the same links meet the same teeth; "
        "an odd count without a common factor spreads the wear (common practice)."
    ),
    "centres_too_far_apart": _(
        "The centres are {centre_pitches:.0f} pitches apart, above {most_pitches:g}: guides or a tensioner are needed "
        "(design handbook)."
    ),
    "centres_outside_usual": _(
        "The centres are {centre_pitches:.1f} pitches apart; {least_pitches:g} to {most_pitches:g} suit most drives "
        "(Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5)."
    ),
    "speed_not_given": _("The speed is not given: speeds, rating, pull and lubrication were not checked."),
    "power_not_given": _("The power is not given: design power, utilisation and pull were not checked."),
    "service_factor_not_given": _(
        "No service factor is given: 1.0, a smooth load, was used (The Complete Guide to Chain, table 4.2)."
    ),
    "galling_limits_rating": _(
        "Plates and rollers alone would carry {power_without_galling_kw:.3g} kW; in the galling region the maker decides."
    ),
    "double_pitch_wear_limit_unseen": _(
        "The wear limit of double-pitch chain ({limit_percent:g} %) is from memory, not seen in a source."
    ),
    "rated_as_standard_plates": _("Heavy plates: rated as the chain with standard plates."),
    "rated_by_pitch": _(
        "The ASME equations were applied by pitch to a B-series chain, with the roller constant of ISO 10823."
    ),
    "newer_tables_rate_higher": _(
        "Newer tables rate No. 25 higher than this older generation (table of No. 25 citing ASME B29.1); never compare "
        "the two."
    ),
    "effective_teeth_used": _(
        "Double pitch: the teeth were read as effective teeth, one for each link (ISO 1275); a double-cut rim has two "
        "for each."
    ),
}
