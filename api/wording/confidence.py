"""That a finding turns on a fact which no source shows."""

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence, Shown

KINDS: dict[str, Promise] = {
    "analogy": _("taken over from a similar case, not seen in a source"),
    "memory": _("from memory, not seen in a source"),
    "judgement": _("a judgement, not a published rule"),
    "disputed": _("on which the sources disagree"),
}
NAMES: dict[str, Promise] = {
    "pitch_mm": _("the pitch of {of}"),
    "roller_diameter_mm": _("the roller diameter of {of}"),
    "inner_width_mm": _("the inner width of {of}"),
    "seat_diameter_max_mm": _("the largest seat that the standard allows on a rim for {of}"),
    "transverse_pitch_mm": _("the distance between the strands of {of}"),
    "plate_height_mm": _("the plate height of {of}"),
    "tooth_width_mm": _("the tooth width of a rim for {of}"),
    "key_width_mm": _("the key width of {of}"),
    "key_height_mm": _("the key height of {of}"),
    "keyway_depth_mm": _("the depth of the hub keyseat of {of}"),
    "rated_power_times": _("the rating of {of} as a multiple of the one used"),
    "double_pitch_no_below_teeth": _(
        "the least number of teeth of a single-pitch rim under double-pitch chain"
    ),
    "double_pitch_wear_limit_percent": _("the wear limit of double-pitch chain in percent"),
    "wall_over_keyseat_share": _("the least wall over the keyseat as a share of the bore"),
    "wall_over_keyseat_depths": _("the least wall over the keyseat in depths of the keyseat"),
    "bearing_room_share": _("the least hub for a pressed-in bearing as a multiple of the pin"),
    "idler_least_teeth": _("the least number of teeth of an idler"),
    "key_pressure_review_mpa": _("the pressure limit of the key in N/mm²"),
    "fast_driver_rpm": _("the speed from which small drivers need hardened teeth"),
    "cast_iron_least_teeth": _("the least number of teeth in cast iron"),
}


def _rests_on_estimate(values: Mapping[str, Shown]) -> str:
    name, kind = NAMES.get(values["name"], "{name}"), KINDS.get(values["kind"], "{kind}")
    text = gettext(
        "This turns on {what}: {value:g} is {how}, {low:g} to {high:g} is possible. Find out, or have an engineer decide."
    )
    spans = {"value": values["value"], "low": values["low"], "high": values["high"]}
    return text.format(
        what=str(name).format(of=values["of"], name=values["name"]),
        how=str(kind).format(kind=values["kind"]),
        **spans,
    )


SENTENCES: dict[str, Sentence] = {
    "rests_on_estimate": _rests_on_estimate,
    "rule_from_memory": _("This rule is from memory, not seen in a source: have an engineer decide."),
}
