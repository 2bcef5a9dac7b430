"""What a check of material, tooth hardness and declared properties found."""

from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence

MATERIAL: dict[str, Sentence] = {
    "neither_material_recorded": _(
        "No material is required for this position, and the candidate's is not recorded."
    ),
    "candidate_material_not_recorded": _(
        "The candidate's material is not recorded: try a magnet, look for a stamp."
    ),
    "plastic_softens_in_heat": _("Plastic softens from about 80 to 100 °C: do not use it where it is hot."),
    "explosive_zone_material_not_recorded": _(
        "This is an explosive zone and no material is recorded for this position: {material:words} must be cleared by the person "
        "responsible for the zone."
    ),
    "explosive_zone_other_material": _(
        "This is an explosive zone: {material:words} instead of {required_material:words} crosses a safety property."
    ),
    "material_equal": _("{material:Words}, as required."),
    "position_material_not_recorded": _(
        "No material is required for this position; the candidate is {material:words}."
    ),
    "position_material_not_recorded_shock": _(
        "No material is recorded for this position, and cast iron breaks under shock: have an engineer check it."
    ),
    "position_material_not_recorded_rust": _(
        "No material is recorded for this position and {material:words} rusts there ({environment:words}): have an engineer "
        "check it."
    ),
    "position_material_not_recorded_plastic": _(
        "No material is recorded for this position; plastic is for light, slow idlers."
    ),
    "plastic_for_metal_on_idler": _(
        "Plastic for metal on an idler: only where it runs light, slow and cool."
    ),
    "plastic_for_metal_on_drive": _("Plastic for metal on a power drive: the teeth creep and break."),
    "cast_iron_under_shock": _("Cast iron for steel under shock: it breaks."),
    "cast_iron_on_small_or_driver": _(
        "Cast iron for steel on a driver or a small sprocket (below {least_teeth} teeth): teeth break."
    ),
    "cast_iron_for_steel": _("Cast iron for steel: only on large, slow, steady driven sprockets."),
    "material_stronger": _("{material:Words} for {required_material:words}: stronger, otherwise equal."),
    "material_weaker": _(
        "{material:Words} for {required_material:words}: less strong or less tough; have an engineer check the load."
    ),
    "material_differs": _(
        "{material:Words} for {required_material:words}: someone must decide whether this position allows it."
    ),
    "material_rusts": _(
        "{material:Words} for {required_material:words}: it rusts there ({environment:words}) and sheds rust into the product."
    ),
    "stainless_for_steel": _(
        "Stainless steel does not rust, but its teeth cannot be hardened: reported to wear 2.5 to 4 times as fast. Better in one "
        "way, worse in another: have an engineer check it."
    ),
    "metal_for_plastic": _(
        "Metal for plastic: have an engineer check noise, product contact, whether oil is forbidden, and chain wear."
    ),
    "candidate_grade_not_recorded": _(
        "The position needs {required_grade}; the candidate's grade is not recorded: look for a stamp."
    ),
    "stainless_grade_differs": _(
        "{grade} for {required_grade}: a different stainless grade; someone must decide whether this position allows it."
    ),
    "grade_304_for_316": _(
        "304 for 316: without molybdenum it pits where there are chlorides. None are recorded here: have an engineer check it."
    ),
    "grade_not_recorded_in_chlorides": _(
        "There are chlorides here, and neither the grade that is required nor the candidate's is recorded: 304 pits, 316 holds. "
        "Look for a stamp or a certificate."
    ),
    "grade_304_in_chlorides": _(
        "{grade} pits where there are chlorides, and which grade this position needs is not recorded: have an engineer check it."
    ),
    "grade_not_compared_in_chlorides": _(
        "There are chlorides here; how {grade} holds against them was not seen in a source: have an engineer check it."
    ),
    "grade_304_for_316_in_chlorides": _("304 for 316: without molybdenum it pits where there are chlorides."),
}

HARDNESS: dict[str, Sentence] = {
    "position_hardness_not_recorded": _("It is not recorded whether this position needs hardened teeth."),
    "hardening_not_required": _("Hardened teeth are not required."),
    "hardening_beyond_requirement": _(
        "Hardened teeth are not required. The candidate has them: it wears less."
    ),
    "teeth_hardened": _("Hardened teeth on both; the hub stays soft and can be bored."),
    "teeth_not_hardened": _(
        "Hardened teeth are required and this candidate's are not hardened: use it for a short time, slow or lightly loaded, "
        "and record it; the teeth wear faster, then the chain."
    ),
    "teeth_cannot_be_hardened": _(
        "Hardened teeth are required and {material:words} cannot be hardened: use it for a short time, slow or lightly loaded, "
        "and record it; the teeth wear faster, then the chain."
    ),
    "candidate_hardness_not_recorded": _(
        "Hardened teeth are required; it is not recorded whether the candidate has them: try a file on a tooth."
    ),
    "abrasive_hardness_not_recorded": _(
        "The surroundings are abrasive, and it is not recorded whether the candidate's teeth are hardened: try a file on a tooth."
    ),
    "abrasive_teeth_hardened": _("Hardened teeth, as abrasive surroundings need them."),
    "abrasive_teeth_not_hardened": _(
        "The surroundings are abrasive and the teeth are not hardened: grit wears them out; have an engineer check it."
    ),
}

DECLARATIONS: dict[str, Sentence] = {
    "explosive_zone_never_crossed": _(
        "An explosive zone never takes a part of a different material than required."
    ),
    "declaration_missing": _(
        "This position needs a declaration ({declaration:words}); nothing is declared for the candidate: ask for the document, do "
        "not assume it."
    ),
    "declared": _("Declared: {declaration:words}."),
    "declared_not": _(
        "This position needs a declaration ({declaration:words}); the candidate is recorded without it."
    ),
}

SENTENCES: dict[str, Sentence] = {**MATERIAL, **HARDNESS, **DECLARATIONS}
