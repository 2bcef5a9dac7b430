"""Parts of sentences that are made from several values."""

from collections.abc import Mapping

from django.utils.translation import gettext

from api.wording.figures import Shown, ShownNumber, decimals_apart, with_decimals
from api.wording.lengths import size_text, sizes_text

Values = Mapping[str, Shown]


def mounting(values: Values) -> str:
    if "bush_size" in values:
        return gettext("hub for a {bush}").format(bush=bush(values["bush_size"]))
    if not values["bore_mm"]:
        return gettext("{bore_type:words} bore").format_map(values)
    return gettext("{bore_type:words} bore {bore_mm:size}").format_map(values)


def bush(size: Shown) -> str:
    return gettext("{size} bush").format(size=size) if size else gettext("bush of unknown size")


def fitted_bush(values: Values) -> str:
    return bush(values["fitted_bush_size"])


def shaft(values: Values) -> str:
    if values["shaft_kind"] == "pin":
        return gettext("dead pin")
    return gettext("{shaft_kind:words} shaft").format_map(values)


def key(values: Values) -> str:
    if not values["key_width_mm"]:
        return gettext("matching")
    if not values["key_height_mm"]:
        return size_text(values["key_width_mm"])
    return sizes_text(values["key_width_mm"], values["key_height_mm"])


def large_ends(values: Values) -> str:
    if not values["large_end_mm"] or not values["hub_large_end_mm"]:
        return ""
    return gettext(" (large end {large_end_mm:.1mm} and {hub_large_end_mm:.1mm})").format_map(values)


def free_bores(values: Values) -> str:
    free = values["free_bores_mm"]
    return (
        gettext("free in this size: {bores:size}").format(bores=free)
        if free
        else gettext("none of this size")
    )


def speed(values: Values) -> str:
    change = values["change_percent"]
    text = (
        gettext("{teeth:g} teeth instead of {old_teeth:g}: the driven shaft runs {change:.1f} % faster")
        if change > 0
        else gettext("{teeth:g} teeth instead of {old_teeth:g}: the driven shaft runs {change:.1f} % slower")
    )
    shown = _unsigned(change)
    if values.get("limit_percent"):
        shown = with_decimals(shown, decimals_apart(shown, values["limit_percent"]))
    return text.format(teeth=values["teeth"], old_teeth=values["old_teeth"], change=shown)


def shift(values: Values) -> str:
    shift_mm = values["shift_mm"]
    text = gettext("{shift:.1mm} further apart") if shift_mm > 0 else gettext("{shift:.1mm} closer together")
    return text.format(shift=_unsigned(shift_mm))


def _unsigned(value: Shown) -> Shown:
    return value if value > 0 else ShownNumber(-value)
