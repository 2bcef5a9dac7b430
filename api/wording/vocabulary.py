"""Words of the vocabulary as they stand inside a sentence; a word without an entry is written with spaces."""

from django.utils.functional import Promise
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
}
