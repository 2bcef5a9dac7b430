"""Steps of work, as a fitter reads them in a list."""

from django.utils.translation import gettext_lazy as _

from api.wording import phrases
from api.wording.figures import Sentence, filled, with_enough_decimals

SENTENCES: dict[str, Sentence] = {
    "turn_one_hub_off": _("turn one hub off"),
    "turn_hub_flush": _("turn the hub flush and drill the bolt holes"),
    "weld_on_hub": _("weld on a hub, true it, keep the teeth below tempering heat"),
    "face_hub": with_enough_decimals(_("face {excess_mm:.1mm} off the hub"), "excess_mm"),
    "turn_hub_down": _("turn the hub down from {hub_mm:mm} to {room_mm:mm}"),
    "bore_hub_for_bearing": _("bore the hub to the bearing's outside diameter"),
    "press_in_bearing": _("press in a bearing for the {pin_mm:size} pin and secure it"),
    "swap_bush": _(
        "take the {fitted_bush_size} bush off and fit a {bush_size} bush with {bore_mm:size} bore"
    ),
    "fit_bush": _("fit a {bush_size} bush with {bore_mm:size} bore"),
    "recut_keyseat": filled(_("recut the keyseat to {key}"), key=phrases.key),
    "deepen_keyseat": _("deepen the keyseat to {depth_mm:mm}"),
    "bore_to_shaft": _("bore to {bore_mm:size}, H8"),
    "cut_keyseat": filled(_("cut a {key} keyseat"), key=phrases.key),
    "cut_second_keyseat": filled(_("cut a {key} keyseat, clear of the old one"), key=phrases.key),
    "drill_set_screws": _("drill and tap for set screws, one over the key and one at 90°"),
    "fit_new_chain": _("fit a new chain with the new sprocket, and look at the mating sprocket's teeth"),
    "fit_chain_of_links": _("fit a chain of {links} links"),
    "move_shafts": filled(_("move the shafts {shift} and set the slack"), shift=phrases.shift),
}
