"""What a check of chain, strands and teeth found."""

from collections.abc import Mapping

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from api.wording.figures import Sentence, Shown, with_enough_decimals

CHAIN: dict[str, Sentence] = {
    "position_chain_not_recorded": _(
        "The chain of this position is not recorded: measure pitch, roller and width before anything else."
    ),
    "candidate_chain_not_recorded": _(
        "The chain that the candidate is cut for is not recorded: measure pitch, roller and width before anything else."
    ),
    "chain_sizes_not_recorded": _(
        "The pitch, roller and width of this chain are not recorded: measure them before anything else."
    ),
    "drive_runs_on_other_chain": _("The drive runs on chain {drives}; this is {own}."),
    "pitch_differs": _(
        "The pitch is different: the chain has {chain_pitch_mm:size}, the rim is cut for {rim_pitch_mm:size}; "
        "the error adds up from tooth to tooth."
    ),
    "large_rollers_on_single_pitch": _("Large rollers never run on a single-pitch rim."),
    "tooth_too_wide": _(
        "The tooth does not enter the chain: the {rim} tooth is {tooth_width_mm:.2mm} wide, the {chain} chain has "
        "{inner_width_mm:.2mm} between its plates."
    ),
    "roller_too_large": with_enough_decimals(
        _(
            "The {chain} roller ({roller_mm:.2mm}) is larger than the seat of the {rim} rim "
            "({seat_max_mm:.2mm} at most): the chain rides high and jumps under load."
        ),
        "roller_mm",
        "seat_max_mm",
    ),
    "roller_too_small": _(
        "The {chain} roller ({roller_mm:.2mm}) is {difference_mm:.2mm} smaller than the one the {rim} rim is cut for: "
        "it drops in loose, hammers, and wears out chain and teeth."
    ),
    "tooth_too_narrow": _(
        "The {rim} tooth ({tooth_width_mm:.2mm}) is too narrow for the {chain} chain ({inner_width_mm:.2mm} between "
        "plates): {side_play_share:.0%} side play where 5 to 7 % is normal; it engages and wears the chain out."
    ),
    "engages_for_a_short_time": _(
        "The {chain} chain engages the {rim} rim, but {reasons}: use it for a short time only and watch the wear."
    ),
    "side_play_small": _("only {side_play_mm:.2mm} are left between tooth and plates"),
    "side_play_large": _("side play is {side_play_share:.1%} where 5 to 7 % is normal"),
    "roller_tight_in_seat": _(
        "the roller ({roller_mm:.2mm}) is tight in the smallest seat ({seat_min_mm:.2mm})"
    ),
    "roller_larger_than_rim": _("the roller is {difference_mm:.2mm} larger than the rim's"),
    "roller_smaller_than_rim": _("the roller is {difference_mm:.2mm} smaller than the rim's"),
    "same_chain": _("Same chain: {chain}."),
    "equal_chain": _(
        "The {chain} chain runs on the {rim} rim as on its own: equal pitch, roller {roller_mm:.2mm} and "
        "{rim_roller_mm:.2mm}, {side_play_mm:.2mm} side play."
    ),
    "tooth_width_doubtful": _(
        "The tooth is recorded as {tooth_width_mm:mm} wide; a rim for {rim} has about {standard_width_mm:.2mm}. "
        "Measure it: it may be cut for a similar chain."
    ),
    "tooth_width_of_look_alike": _(
        "The tooth is recorded as {tooth_width_mm:mm} wide: that is a {look_alike} rim ({look_alike_width_mm:.2mm}), not a "
        "{rim} rim ({standard_width_mm:.2mm})."
    ),
    "tooth_width_nearer_look_alike": _(
        "The tooth is recorded as {tooth_width_mm:mm} wide: that is nearer to a {look_alike} rim "
        "({look_alike_width_mm:.2mm}) than to a {rim} rim ({standard_width_mm:.2mm})."
    ),
    "replaced_tooth_nearer_look_alike": _(
        "The tooth of the part to replace is recorded as {tooth_width_mm:mm} wide: that is nearer to a {look_alike} rim "
        "({look_alike_width_mm:.2mm}) than to a {rim} rim ({standard_width_mm:.2mm})."
    ),
    "tooth_width_between": _(
        "The tooth is recorded as {tooth_width_mm:mm} wide: a {rim} rim has {standard_width_mm:.2mm}, a {look_alike} rim "
        "{look_alike_width_mm:.2mm}, and it is clearly neither."
    ),
    "tooth_leaves_no_play": _(
        "The tooth is recorded as {tooth_width_mm:mm} wide, and the {chain} chain has {inner_width_mm:.2mm} between its "
        "plates: it needs {clearance_mm:.2mm} of play to enter."
    ),
    "chain_measures_as": _(
        "With a roller of {roller_mm:mm} and {inner_width_mm:mm} between plates it measures like {look_alikes}."
    ),
    "measure_roller_and_width_again": _("Measure roller and inner width again, on an unworn link."),
    "measure_tooth_width_again": _("Measure the tooth again, below the chamfer."),
    "measure_diameter_in_gaps": _(
        "Measure over the bottoms of opposite gaps: a {rim} rim has {own_mm:.1mm}, a {look_alike} rim {look_alike_mm:.1mm}."
    ),
    "measure_width_over_rows": _(
        "Measure the width over all rows: a {rim} rim has {own_mm:.1mm}, a {look_alike} rim {look_alike_mm:.1mm}."
    ),
    "every_second_gap_teeth_not_recorded": _(
        "Double-pitch chain on a single-pitch rim: the number of teeth decides, and it is not recorded."
    ),
    "every_second_gap": _(
        "Double-pitch chain in every second gap of a single-pitch rim: over two teeth the rim is {short_share:.2%} shorter "
        "than the chain ({teeth} teeth). It runs but wears faster: have an engineer check it."
    ),
    "every_second_gap_too_few_teeth": _(
        "Double-pitch chain in every second gap of a single-pitch rim: over two teeth the rim is {short_share:.2%} shorter "
        "than the chain. {teeth} teeth are too few, {least_teeth} are needed: the chain climbs."
    ),
    "row_distance_not_recorded": _(
        "The distance between the strands is not recorded: measure it from row to row."
    ),
    "rows_do_not_line_up": _(
        "The rows do not line up: the strands of the {chain} are {chain_row_distance_mm:.2mm} apart, the rows of the {rim} "
        "rim {rim_row_distance_mm:.2mm}; the difference is {difference_mm:.2mm} per row."
    ),
}


def _rows_too_few(values: Mapping[str, Shown]) -> str:
    text = ngettext(
        "The chain has {strands} strands and the sprocket only {rows} row of teeth: part of the chain would hang beside the "
        "teeth. Single sprockets side by side are not held in phase.",
        "The chain has {strands} strands and the sprocket only {rows} rows of teeth: part of the chain would hang beside the "
        "teeth. Single sprockets side by side are not held in phase.",
        values["rows"],
    )
    return text.format(strands=values["strands"], rows=values["rows"])


STRANDS: dict[str, Sentence] = {
    "position_strands_not_recorded": _(
        "The number of strands of this position is not recorded: count the strands of the chain."
    ),
    "candidate_strands_not_recorded": _(
        "The candidate's number of rows is not recorded: count the rows of teeth."
    ),
    "chain_strands_not_recorded": _("The number of strands of this chain is not recorded: count them."),
    "strands_equal": _("Strands: {own}, as on the drive."),
    "strands_differ": _("Strands of the chain on the drive: {drives}; of this one: {own}."),
    "rows_equal": _("Strands: {strands}, rows of teeth: {rows}."),
    "rows_too_few": _rows_too_few,
    "rows_too_wide": with_enough_decimals(
        _("The {rows} rows of teeth are {width_mm:.1mm} wide and there is room for {room_mm:.1mm} only."),
        "width_mm",
        "room_mm",
    ),
    "rows_more_than_strands": _(
        "Rows of teeth: {rows}, strands: {strands}. The chain can run on one side of the rim: check chain line, width, weight "
        "and guard."
    ),
    "room_copied_from_old_part": _(
        "This room was copied from the old part: measure the room that there really is."
    ),
}

TEETH: dict[str, Sentence] = {
    "candidate_teeth_not_recorded": _("The candidate's teeth are not recorded: count them twice."),
    "position_teeth_not_recorded": _(
        "The number of teeth of this position is not recorded: count the teeth of the old part."
    ),
    "candidate_cut_not_recorded": _(
        "It is not recorded whether the candidate is single or double cut: check whether the chain lies in every gap or in "
        "every second gap."
    ),
    "position_cut_not_recorded": _(
        "It is not recorded whether the old part is single or double cut: check whether the chain lies in every gap or in "
        "every second gap."
    ),
    "teeth_equal": _("{teeth} teeth, as required."),
    "teeth_equal_in_every_second_gap": _(
        "{teeth} teeth in every second gap run as {effective_teeth:g} on this chain, as required."
    ),
    "teeth_differ": _(
        "{teeth} teeth instead of {required_teeth}: a different ratio and a different centre distance. Part for part this is "
        "no substitute; only a drive with a recorded ratio tolerance and take-up can allow it."
    ),
    "teeth_differ_by_cut": _(
        "{teeth} teeth run as {effective_teeth:g} on this chain instead of {required_effective_teeth:g}: a different ratio and a "
        "different centre distance. Part for part this is no substitute; only a drive with a recorded ratio tolerance and take-up "
        "can allow it."
    ),
    "outside_diameter_of_other_teeth": _(
        "The outside diameter is recorded as {diameter_mm:.1mm}; with {teeth} teeth a {rim} rim has {least_mm:.1mm} to "
        "{most_mm:.1mm}."
    ),
    "count_teeth_and_measure_pitch": _("That is {look_alikes}: count the teeth and measure the pitch again."),
    "diameter_of_other_count": _("a {rim} rim with {teeth} teeth"),
    "diameter_of_other_pitch": _("a {look_alike} rim with {teeth} teeth"),
    "idler_teeth_too_few": _(
        "{teeth} teeth: this idler needs at least {least_teeth}; fewer hammer the chain and hold too few rollers."
    ),
    "idler_teeth_few": _(
        "{teeth} teeth on an idler for which no least number is recorded: below {least_teeth} it may hold too few rollers; have "
        "an engineer check it."
    ),
    "idler_teeth_free": _(
        "{teeth} teeth: an idler does not change the ratio; {least_teeth} teeth or more are enough."
    ),
    "idler_teeth_changed": _(
        "{teeth} teeth instead of {required_teeth}: an idler does not change the ratio; {least_teeth} teeth or more are enough."
    ),
}

SENTENCES: dict[str, Sentence] = {**CHAIN, **STRANDS, **TEETH}
