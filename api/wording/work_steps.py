"""Steps of work, as a fitter reads them in a list."""

from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence

SENTENCES: dict[str, Sentence] = {
    "turn_one_hub_off": _("turn one hub off"),
    "turn_hub_flush": _("turn the hub flush and drill the bolt holes"),
    "weld_on_hub": _("weld on a hub, true it, keep the teeth below tempering heat"),
    "face_hub": _("face {excess_mm:.1f} mm off the hub"),
    "turn_hub_down": _("turn the hub down from {hub_mm:g} to {room_mm:g} mm"),
}
