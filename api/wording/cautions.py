"""Cautions that go with an answer."""

from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence

SENTENCES: dict[str, Sentence] = {
    "lock_out": _(
        "Isolate and lock out the drive and prove it dead before the guard comes off; follow the site's own permit and the "
        "local rules."
    ),
    "release_stored_energy": _(
        "Release stored energy first: hanging loads, tensioned chain, backstops, springs, inclined conveyors."
    ),
    "refit_guards": _(
        "Refit every guard before restarting; turn the drive by hand first, a larger part may foul it."
    ),
    "competent_person_decides": _(
        "This answer shows what was checked and what was not; a competent person decides."
    ),
    "hot_work_permit": _(
        "Welding needs the site's hot-work permit and a qualified welder; keep the teeth cool."
    ),
    "no_sparks_in_dust_zone": _(
        "Grinding, welding and sparking tools are not allowed in a dust or explosive zone: take the part out to the shop."
    ),
    "bush_cone_dry": _(
        "No grease or anti-seize on the bush's cone; tighten to the bush's own sheet and retighten after the first hour."
    ),
    "lifting_gear": _("{mass_kg:g} kg: use lifting gear."),
    "lifting_gear_estimated": _(
        "About {mass_kg:.0f} kg, estimated from its dimensions as a solid wheel: use lifting gear, and weigh it."
    ),
    "lathe_work": _(
        "Lathe: clamp the part true and tight, close the chuck guard, wear no gloves or loose sleeves, and let a large wheel turn "
        "slowly first."
    ),
    "slotter_work": _(
        "Slotter or broach: clamp the part, stop the ram before you measure, and keep your hands off the stroke."
    ),
    "drill_work": _("Drill: clamp the part, wear eye protection and no gloves."),
    "bearing_in_press": _(
        "Bearing: press on the ring that sits tight, never through the balls; stand beside the press and wear eye protection."
    ),
    "heated_hub": _(
        "A heated hub burns: wear heat-proof gloves, mark it as hot, and let it cool in still air before you touch it."
    ),
    "no_set_screws": _(
        "This part has no set screws: see that a shoulder or an end plate holds it along the shaft, or drill for screws."
    ),
    "no_hammer_on_cast_iron": _("Cast iron: no hammer on the rim."),
}
