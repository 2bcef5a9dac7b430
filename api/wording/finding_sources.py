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
    "standard_sizes_by_name": gettext_lazy(
        "whole millimetres and sixteenths of an inch, 25.4 mm exactly; caliper uncertainty is a setting of this project"
    ),
    "chain_on_wheel_formula": gettext_lazy("pitch diameter plus the plate height of ISO 606"),
    "iso_606_tooth_width": gettext_lazy(
        "tooth width bf1 of ISO 606, h14, and flange thickness of ASME B29.1"
    ),
    "nearest_look_alike": gettext_lazy(
        "nearest rim of the same pitch in the chain tables; rule of this project"
    ),
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
    "room_as_recorded": gettext_lazy("space recorded for this position"),
    "least_wall_judgement": gettext_lazy("wall over the keyseat: judgement of this project"),
    "material_rules": gettext_lazy(
        "material rules M1 to M10: common practice; stainless wear 2.5 to 4 times: trade article, indicative"
    ),
    "softening_from_memory": gettext_lazy("rule M10: from memory, decides nothing alone"),
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
    "document": "{title}",
    "one_nominal_size": gettext_lazy(
        "two sizes are one nominal size within {tolerance_mm:mm} "
        "(judgement: holds two-decimal tables, separates the nearest standard pair)"
    ),
    "rule_h10": gettext_lazy("rule H10 of common practice: keyed bore on a shaft without a key"),
    "rule_h13": gettext_lazy("rule H13 of common practice: bored hub in the place of a bushed one"),
    "rule_h21": gettext_lazy("rule H21 of common practice: driver or driven to idler after rework"),
    "bearing_diameter_series": gettext_lazy(
        "ISO 15, diameter series 2 (bearings 62); above a bore of 30 mm from memory"
    ),
    "rules_h3_and_h4": gettext_lazy(
        "rules H3 and H4 of common practice: the key carries torque by its side area"
    ),
    "undersize_shafts_under_bushes": gettext_lazy("undersize shafts under bushes: installation sheets"),
    "bush_size_identifies_cone": gettext_lazy("designation rule: the size alone identifies the cone"),
    "taper_bush_installation_sheets": gettext_lazy("retightening: taper-bush installation sheets"),
    "bush_bore_lists": gettext_lazy("bore ranges of the bush lists"),
    "bush_is_a_stock_item": gettext_lazy("a bushed sprocket and its bush are two stock items"),
    "bush_keyway_as_recorded": gettext_lazy("keyway as recorded for the bush"),
    "bs_46_keyways_in_european_inch_bushes": gettext_lazy("European inch bushes have BS 46-1:1958 keyways"),
    "shallow_keyways_of_bush_lists": gettext_lazy(
        "bush lists: the largest bores are made with a shallow keyway"
    ),
    "keyways_of_bush_lists": gettext_lazy("keyways of the bush lists"),
    "keyway_standards_of_bush_bores": gettext_lazy(
        "ISO 773 in metric bores, BS 46-1:1958 in European inch bores"
    ),
    "key_tables": gettext_lazy("key widths: ISO 773, ASME B17.1, BS 46"),
    "no_metric_key_fits_inch_keyseat": gettext_lazy("no metric key fits an inch keyseat"),
    "stepped_key_practice": gettext_lazy("stepped key: common practice, no source"),
    "hub_keyway_depths": gettext_lazy("hub depths of ISO 773, DIN 6885-3, ASME B17.1 and BS 46"),
    "keyseat_depth_elsewhere": gettext_lazy(
        "depth {depth_mm:mm} of the {key_width_mm:mm} key in {standards}, at other diameters"
    ),
    "key_width_of_standard": gettext_lazy("key widths of the recorded standard"),
    "key_width_as_recorded": gettext_lazy("key width as recorded"),
    "key_table": gettext_lazy("{standard} key table"),
    "key_as_recorded": gettext_lazy("key as recorded for the shaft"),
    "greatest_bore_as_recorded": gettext_lazy("greatest bore as recorded for the part"),
    "wall_over_keyseat_formula": gettext_lazy("wall over the keyseat computed as (hub - bore) / 2 - depth"),
    "exact_chain_length": gettext_lazy("exact chain length by tangents and arcs (form of ISO 10823)"),
    "rating_generation": gettext_lazy("generation: {generation:words}; {confidence:words}"),
    "key_pressure_formula": gettext_lazy("2T / (d (h - t1) L)"),
    "key_pressure_limit_from_memory": gettext_lazy("the limit is from memory and a setting"),
    "stock_lists_harden_small_sprockets": gettext_lazy("stock lists harden through 25 teeth"),
    "fast_driver_speed_from_memory": gettext_lazy("600 rpm from memory"),
    "chain_wear_limits": gettext_lazy(
        "3 %, 200/N % above 66 teeth, 1.5 % on fixed centres: three trade sources"
    ),
    "double_pitch_limit_from_memory": gettext_lazy("limit of double-pitch chain: from memory"),
    "rule_as_recorded": gettext_lazy("rule as recorded for this place"),
    "drive_as_recorded": gettext_lazy("as recorded for the drive"),
    "lifting_is_for_licensed_practice": gettext_lazy(
        "judgement: lifting, hoisting and man-riding are decided by licensed practice"
    ),
}
