"""What the readings of an unknown sprocket say, what to measure next, and how a delivery differs from what was ordered."""

from django.utils.translation import gettext_lazy as _

SENTENCES = {
    # Readings that are refused
    "chord_needs_both": _("Give chord_mm and chord_gaps together: how far, and over how many gaps."),
    "chord_gaps_beyond_half": _(
        "A chord over {gaps} gaps goes beyond the middle: take at most {most} gaps on this wheel."
    ),
    "reading_smaller_than_other": _(
        "The {reading:words}, {reading_mm:mm}, is smaller than the {other:words}, {other_mm:mm}: measure both again."
    ),
    "width_contradicts_rows": _(
        "{overall_width_mm:mm} over all cannot be {strands} rows of teeth {tooth_width_mm:mm} wide: count the rows and measure both again."
    ),
    "reading_perhaps_in_inches": _(
        "{read:g} mm is the {measurement:words} of no listed sprocket, {read:g} in would be: if it was read in inches, give {inches_in_mm:g}."
    ),
    # Notes
    "count_teeth_again": _(
        "The readings fit {other_teeth} teeth better than {teeth}: mark the first tooth and count again."
    ),
    "no_listed_chain_fits": _(
        "No listed chain has this {measurements:words} with so many teeth: count and measure again, or lay a chain on it."
    ),
    "reading_does_not_fit": _(
        "The {measurement:words} of {read_mm:mm} does not fit {chain}: measure it again."
    ),
    "readings_contradict": _(
        "The {measurements:words} cannot be of one sprocket of a listed chain: measure them again."
    ),
    "odd_teeth_outside_diameter": _(
        "{teeth} is odd: from tip to tip a caliper reads {tip_to_tip_mm:.2mm} too little, over flats {over_flats_mm:.2mm}. Better: "
        "from the wall of the bore to a tip, plus half the bore, times two."
    ),
    "rests_on_plant": _(
        "{chain} has {share:percent} because drives here run it: by the readings alone {flat_share:percent}. Measure further to be sure."
    ),
    "candidate_not_in_print": _(
        "The sizes of one of the likeliest chains were not seen in print: compare it with a chain."
    ),
    # What decides
    "measure_next": _(
        "Measure the {measurement:words} next: {information_bits:.1f} bits of information expected."
    ),
    "measure_chord_next": _(
        "Measure from the centre of a gap to that of the gap {gaps} further: {information_bits:.1f} bits of information expected."
    ),
    "measurement_tells_apart": _(
        "The {measurement:words} tells {chain} × {strands} ({size_mm:.2mm}) from {other} × {other_strands} ({other_mm:.2mm})."
    ),
    "count_tells_apart": _(
        "Counting the {measurement:words} again tells {chain} × {strands} from {other} × {other_strands}."
    ),
    "nothing_tells_apart": _(
        "No measurement left to take tells {chain} × {strands} from {other} × {other_strands}: lay a chain on it."
    ),
    # Receiving check
    "item_or_teeth_needed": _("Name the item that was ordered, or give its chain and teeth."),
    "item_without_teeth_to_check": _(
        "Item '{item}' has no chain and teeth to check a delivery against: record them first."
    ),
    "chain_not_in_so_many_strands": _("No rim for chain {chain} with {strands} rows of teeth is known."),
    "chain_not_for_double_cut": _(
        "Chain {chain} does not run on a double-cut sprocket: leave single_cut out."
    ),
    "look_alike_measures": _(
        "{measurement:Words} {size_mm:.2mm}, not {look_alike_mm:.2mm} as of {look_alike}."
    ),
    "delivered_teeth_differ": _("{counted} teeth were counted, {ordered} were ordered."),
    "delivered_strands_differ": _("{counted} rows of teeth were counted, {ordered} were ordered."),
    "measure_ordered_size": _("{measurement:Words} {size_mm:size}, as ordered."),
    "delivered_bore_differs": _("{measurement:Words} {read_mm:mm}, {ordered_mm:size} ordered."),
    "delivered_size_out_of_limits": _(
        "{measurement:Words} {read_mm:mm}: a new {chain} has {least_mm:.2mm} to {most_mm:.2mm}, reading error included."
    ),
    "measure_also": _("Measure the {measurement:words} too: without it look-alikes are not excluded."),
    "reading_allows_look_alikes": _(
        "The readings lie within the limits of {look_alikes} too: measure again."
    ),
    "look_alikes_not_told_apart": _(
        "No measurement tells it from {look_alikes}: rely on the marking or the delivery note."
    ),
    # Deliveries
    "delivery_not_counted": _(
        "Count teeth and rows of what came for {item} and measure it, or say in words what is wrong with it."
    ),
    "delivery_stated_wrong": _("Whoever checked it says: {words}."),
    "delivery_already_recorded": _(
        "Reference {reference} is recorded already with another {differs}: give this delivery a reference of its own."
    ),
    "delivery_for_closed_order": _(
        "Order {order} is {state:words}: check the delivery against the order that it came for."
    ),
    "delivery_above_outstanding": _(
        "{delivered:,} pieces, but only {outstanding:,} of order {order} are outstanding: book the rest as a receipt, or have "
        "purchasing correct the order."
    ),
    "delivery_before_order": _("checked_at must not be before the order."),
    "delivery_of_chain": _(
        "{item} is kept in links, and its check puts nothing on hold: send back what is wrong; the order stays open."
    ),
    "delivery_reason_missing": _("Give a reason: who decided it, and by what."),
    "delivery_not_so_many_held": _("{requested:,} pieces, but {held:,} of this delivery are on hold."),
}
