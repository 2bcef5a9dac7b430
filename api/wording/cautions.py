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
    "no_hammer_on_cast_iron": _("Cast iron: no hammer on the rim."),
}
