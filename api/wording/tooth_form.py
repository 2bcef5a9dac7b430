"""Notes on the dimensions of a sprocket's teeth."""

from django.utils.translation import gettext_lazy as _

SENTENCES = {
    "teeth_outside_standard": _(
        "{teeth:g} teeth: ISO/R 606 states the tooth form for {least_teeth} to {most_teeth} teeth only."
    ),
    "rim_of_chain_not_in_print": _("The roller or inner width of chain {chain} was not seen in print."),
    "rim_width_unsettled": _(
        "The sources disagree on the tooth width of a rim for {chain}, by up to {error_mm:mm}: measure it."
    ),
    "plate_height_not_in_print": _(
        "The plate height was not seen in print: check the hub against the chain."
    ),
    "tip_diameter_from_base_pitch": _(
        "The tip diameters take the base pitch for the tooth height: derived, no table seen."
    ),
    "chain_has_one_strand": _("Chain {chain} is made in one strand only."),
    "transverse_pitch_not_known": _(
        "The transverse pitch is not known, so the width over the strands was not calculated."
    ),
    "transverse_pitch_not_in_print": _(
        "The transverse pitch was not seen in print: measure the width over the strands."
    ),
}
