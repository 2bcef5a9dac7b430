"""What a limit rests on, as a list of sources shows it."""

from collections.abc import Mapping

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.wording.figures import Sentence, Shown


def _screening(values: Mapping[str, Shown]) -> str:
    """Chain and rim may be one row of one table."""
    named = [f"{values[name]}" for name in ("chain_source", "rim_source") if values[name]]
    dimensions = "; ".join(dict.fromkeys(named)) or _("as recorded")
    return _(
        "screening rule of this project over the seat diameters and tooth widths of ISO 606; dimensions: {dimensions}"
    ).format(dimensions=dimensions)


SENTENCES: dict[str, Sentence] = {
    "judgement": gettext_lazy("judgement of this project"),
    "iso_606_screening": _screening,
    "iso_606_tooth_width": gettext_lazy("tooth width bf1 of ISO 606; the band is a setting of this project"),
    "iso_606_tip_diameters": gettext_lazy("tip diameters: ISO 606"),
    "chord_over_two_teeth": gettext_lazy(
        "chord 2p cos(180°/z), computed; the least count is a setting of this project, no published rule was seen"
    ),
    "rows_in_phase": gettext_lazy(
        "rule H23 of common practice: rows must be held in phase and at the transverse pitch"
    ),
    "width_over_rows": gettext_lazy("computed: (rows - 1) × transverse pitch + tooth width"),
    "wider_body": gettext_lazy("judgement: a wider body can run a narrower chain on some of its rows"),
    "ratio_of_teeth": gettext_lazy("ratio = driven teeth / driver teeth"),
    "least_teeth_of_position": gettext_lazy("least count as recorded for this position"),
    "idler_teeth_from_memory": gettext_lazy("17 teeth for idlers: from memory, decides nothing alone"),
    "idler_outside_ratio": gettext_lazy("an idler does not enter the ratio"),
    "hub_style_rules": gettext_lazy(
        "style substitution rules H1 to H18: hubs stay soft and can be turned; common practice"
    ),
    "room_as_recorded": gettext_lazy("room as recorded for this place"),
    "least_wall_judgement": gettext_lazy("wall over the keyseat: judgement of this project"),
    "material_rules": gettext_lazy(
        "material rules M1 to M10: common practice; stainless wear 2.5 to 4 times: trade article, indicative"
    ),
    "chloride_pitting_article": gettext_lazy(
        "304 pitted at 180 ppm chloride, guideline about 80 ppm against 400 ppm: trade article, indicative"
    ),
    "grades_not_ranked": gettext_lazy("judgement: grades that were not compared in a source are not ranked"),
    "abrasive_rule_from_memory": gettext_lazy("rule T4: from memory, decides nothing alone"),
    "hardened_teeth_trade_pages": gettext_lazy(
        "rule T2: trade pages name 35 to 55 HRC for hardened teeth; conditional use is common practice"
    ),
    "safety_property": gettext_lazy("safety property: a hard constraint"),
    "declaration_as_recorded": gettext_lazy("declaration as recorded"),
}
