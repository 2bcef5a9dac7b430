"""Words of the vocabulary as they stand inside a sentence; a word without an entry is written with spaces.

The choices of a record are such words too, and translated by their own text.
"""

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

WORDS: dict[str, Promise] = {
    # Material
    "carbon_steel": _("carbon steel"),
    "alloy_steel": _("alloy steel"),
    "cast_iron": _("cast iron"),
    "stainless_steel": _("stainless steel"),
    "sintered_steel": _("sintered steel"),
    "plastic": _("plastic"),
    # Environment
    "washdown": _("washdown"),
    "food": _("food"),
    "outdoor": _("outdoor"),
    "corrosive": _("corrosive"),
    "chloride": _("chlorides"),
    "abrasive": _("abrasive"),
    "hot": _("hot"),
    "explosive": _("explosive"),
    "clean_dry": _("clean and dry"),
    # Hub style
    "split": _("split"),
    "weld_on": _("weld-on"),
    "flanged": _("flanged"),
    # Declarations
    "food_contact": _("food contact"),
    "non_sparking": _("non-sparking"),
    # Dimensions
    "outside_diameter": _("outside diameter"),
    "computed_outside_diameter": _("computed outside diameter"),
    "chain_on_wheel": _("chain on the wheel"),
    "tallest_chain_on_wheel": _("wheel with the tallest chain of this pitch"),
    "hub_diameter": _("hub diameter"),
    "roller_diameter": _("roller diameter"),
    "inner_width": _("inner width"),
    # Measurements
    "outside_diameter_mm": _("outside diameter"),
    "caliper_diameter_mm": _("diameter over the bottoms of the gaps"),
    "tooth_width_mm": _("tooth width"),
    "overall_width_mm": _("width over all rows"),
    "chord_mm": _("chord over several gaps"),
    "hub_diameter_mm": _("hub diameter"),
    "length_through_bore_mm": _("length through bore"),
    "keyway_depth_mm": _("keyway depth"),
    "bore_mm": _("bore"),
    "keyway_width_mm": _("keyway width"),
    "key_height_mm": _("key height"),
    "key_length_mm": _("key length"),
    "pitch_mm": _("pitch"),
    "inner_width_mm": _("inner width"),
    "roller_diameter_mm": _("roller diameter"),
    "bush_size": _("bush size"),
    # Stocking rules of the back-test
    "Poisson all-history mean": _("Poisson, mean of the whole history"),
    "Poisson SBA": _("Poisson, Syntetos-Boylan forecast"),
    "Poisson MA12": _("Poisson, mean of the last 12 months"),
    "NB all-history mean+var": _("negative binomial, mean of the whole history"),
    "NB SBA mean, hist var": _("negative binomial, Syntetos-Boylan forecast"),
    "NB TSB mean, hist var": _("negative binomial, Teunter-Syntetos-Babai forecast"),
    "gamma-Poisson EB pooled": _("gamma-Poisson, pooled over all items"),
    "EB pooled rate, item/pool overdisp NB": _("negative binomial, pooled rate and half-pooled spread"),
    "empirical window quantile": _("quantile of past windows"),
    # Attributes
    "strands": _("number of strands"),
    "teeth": _("number of teeth"),
    "single_cut": _("cut of the teeth"),
    # Shafts and bores
    "keyed": _("keyed"),
    "hex": _("hex"),
    "spline": _("spline"),
    "ISO 773 low": _("ISO 773 low"),
    # Roles
    "driver": _("driver"),
    "driven": _("driven"),
    "idler": _("idler"),
    "drive": _("drive"),
    "spring_loaded": _("spring loaded"),
    # Shocks
    "moderate": _("moderate"),
    "heavy": _("heavy"),
    # Kinds of record
    "position": _("position"),
    "plant": _("plant"),
    "area": _("area"),
    "bin": _("bin"),
    "movement": _("movement"),
    "kit": _("kit"),
    "work_order": _("work order"),
    "supply_order": _("supply order"),
    "machine_shop": _("machine shop"),
    # Operations
    "adjust_centre": _("adjust centre"),
    "change_bush": _("change bush"),
    "cut_keyseat": _("cut keyseat"),
    "drill_set_screws": _("drill set screws"),
    "face_hub": _("face hub"),
    "fit_bearing": _("fit bearing"),
    "fit_chain": _("fit chain"),
    "turn_hub": _("turn hub"),
    "weld_hub": _("weld hub"),
    # Aspects
    "chain_wear": _("chain wear"),
    "duty": _("duty"),
    "envelope": _("envelope"),
    "mounting": _("mounting"),
    "rating": _("rating"),
    "tooth_hardness": _("tooth hardness"),
    # Results
    "filled_by_substitute": _("filled by substitute"),
    "partly": _("partly"),
    "right": _("right"),
    "wrong": _("wrong"),
    "undecided": _("undecided"),
    "unchanged": _("unchanged"),
    "stale": _("stale"),
    "ready": _("ready"),
    "short": _("short"),
    "on_order": _("on order"),
    "substitute": _("substitute"),
    # Ends and causes
    "limit_reached": _("limit reached"),
    "opportunity": _("opportunity"),
    "worn": _("worn"),
    "asked": _("asked"),
    "zero": _("zero"),
    "value": _("value"),
    # Sources of the record
    "installations": _("installations"),
    "movements": _("movements"),
    "work_orders": _("work orders"),
    # Ratings of chains
    "ACA/ASME equations (older generation)": _("ACA/ASME equations (older generation)"),
    "found": _("found in print"),
    "not seen in print": _("not seen in print"),
    "by pitch, not the standard for this series": _("by pitch, not the standard for this series"),
    "base chain of standard plates, heavy plates carry no less": _(
        "base chain of standard plates, heavy plates carry no less"
    ),
    # Conditions and states
    "used_serviceable": _("used, serviceable"),
    "retracted": _("retracted"),
    # Approvals
    "may_follow": _("may follow"),
    "before_fitting": _("before fitting"),
}

OF_DJANGO = (
    _("After you’ve created a user, you’ll be able to edit more user options."),
    _(
        "Whether the user will be able to authenticate using a password or not. If disabled, they may still be able to "
        "authenticate using other backends, such as Single Sign-On or LDAP."
    ),
    _("Raw passwords are not stored, so there is no way to see the user’s password."),
)
"""Texts of the administration that Django's own catalogues lack."""
CHOICES = (_("weld on"),)
"""Texts of choices that differ from their word by more than a space."""


def word_of(value: str) -> str:
    return str(WORDS[value]) if value in WORDS else gettext(value.replace("_", " ")) if value else ""
