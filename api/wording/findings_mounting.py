"""What a check of bore, bush and key against the shaft found."""

from collections.abc import Mapping

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from api.wording import phrases
from api.wording.figures import Sentence, Shown, filled, with_enough_decimals

SHAFT: dict[str, Sentence] = {
    "bore_type_not_recorded": _("The candidate's bore type is not recorded: look at its bore."),
    "same_mounting": filled(
        _("Same mounting as the part it replaces: {mounting}."), mounting=phrases.mounting
    ),
    "bearing_carries_no_torque": _(
        "A bearing bore turns freely on its shaft and carries no torque: it is for idlers only."
    ),
    "bore_does_not_suit_shaft": filled(
        _("A {mounting} does not go on a {shaft}."), mounting=phrases.mounting, shaft=phrases.shaft
    ),
    "bore_does_not_suit_round_shaft": filled(
        _("A {mounting} does not go on the round shaft of a bush."), mounting=phrases.mounting
    ),
    "spline_needs_same_spline": _(
        "The shaft is splined: only a hub with the same spline (standard, module, teeth, fit) goes on."
    ),
    "shaft_not_recorded": _(
        "The shaft of this position is not recorded: measure its diameter and key before the part leaves the storeroom."
    ),
    "bored_hub_replaces_bush": filled(
        _(
            "The part it replaces sits on a {bush}; this one is bored for the shaft itself: record the shaft first. "
            "The quick release is lost."
        ),
        bush=phrases.fitted_bush,
    ),
    "bearing_on_plain_shaft": _(
        "A bearing bore on a plain shaft is right only where the shaft stands still and the idler turns on it: "
        "check which of them turns."
    ),
    "no_key_on_shaft": _(
        "The shaft has no key, so the set screws carry the torque: light load only. The unused keyway does no harm."
    ),
    "hold_without_key_not_recorded": _(
        "The shaft has no key, and neither a keyway nor set screws are recorded for the candidate: check how it is held."
    ),
    "shaft_diameter_not_recorded": _("The shaft's diameter is not recorded: measure it; 25 mm is not 1 in."),
    "bore_not_recorded": _("The candidate's bore is not recorded: measure it; 25 mm is not 1 in."),
    "bore_fits_shaft": _("Bore {bore_mm:size} on a {shaft_mm:size} shaft: same size."),
    "bore_too_large": _("Bore {bore_mm:size} on a {shaft_mm:size} shaft: {excess_mm:mm} too large."),
    "size_of_look_alike": _("{size_mm:mm} is {look_alike_mm:size}, not {required_mm:size}."),
    "size_between_standard_sizes": _(
        "{size_mm:mm}, and {required_mm:size} is required: one of the two reads like a measured size. The nearest other "
        "standard size is {look_alike_mm:size}."
    ),
    "measure_with_bore_gauge": _("Measure bore and shaft again, with a bore gauge and a micrometer."),
    "bore_looks_like_a_fit": _("It slides on and looks right, then frets and works loose."),
    "metal_cannot_be_added": _(
        "Metal cannot be added; a sleeve is an engineered repair, not a storeroom answer."
    ),
    "bush_on_shaft_now": _(
        "A {fitted_bush_size} bush sits on this shaft now. Shafts under bushes may be undersize: measure the shaft "
        "before a bored-to-size hub goes on. The quick release is lost."
    ),
    "hex_size_not_recorded": _("The hex size across flats is not recorded on one side: measure it."),
    "hex_fits": _("Hex {offered_mm:size} across flats on both."),
    "hex_size_differs": _(
        "Hex {offered_mm:size} across flats on a {shaft_mm:size} hex shaft: a hex fits its own size only."
    ),
    "bearing_size_not_recorded": _(
        "The diameter of the bearing bore or of the pin is not recorded: measure it."
    ),
    "bearing_fits_pin": _("Bearing bore {offered_mm:size} on a {shaft_mm:size} pin: same size."),
    "bearing_size_differs": _(
        "Bearing bore {offered_mm:size} on a {shaft_mm:size} pin: a bearing can be neither bored out nor bushed down."
    ),
    "room_for_bearing_not_recorded": _(
        "A bored sprocket on a dead pin needs a bearing pressed in, and the pin or the hub is not recorded: "
        "measure whether there is room."
    ),
    "no_room_for_bearing": _("The hub ({hub_mm:size}) has no room for a bearing on a {pin_mm:size} pin."),
    "little_room_for_bearing": _(
        "The hub ({hub_mm:size}) leaves little room for a bearing on a {pin_mm:size} pin: find the bearing first."
    ),
    "bore_wider_than_bearing": _(
        "The bore ({bore_mm:size}) is wider than the usual bearing for a {pin_mm:size} pin, {bearing_mm:size} outside: "
        "it would not hold. Find a larger bearing or have a sleeve made."
    ),
    "bearing_to_press_in": _(
        "A bored sprocket would wear out on a dead pin: press in a bearing for the {pin_mm:size} pin; "
        "the hub ({hub_mm:size}) has room for it."
    ),
}

BUSHES: dict[str, Sentence] = {
    "bush_size_not_recorded": _(
        "The candidate takes a bush, but the size is not recorded: read it off the bush face or measure the large end."
    ),
    "bush_stays": _(
        "Takes the {bush_size} bush that sits on the shaft now: clean the cone, no grease, retighten after the first hour."
    ),
    "shaft_of_bush_not_recorded": _(
        "Takes a {bush_size} bush; neither the shaft nor a bush on it is recorded: measure the shaft."
    ),
    "bush_pair_not_in_tables": _(
        "Bush {fitted_bush_size} or {bush_size} is not in the tables: measure and compare the cones."
    ),
    "bush_of_same_size": _(
        "Bush {fitted_bush_size} in a hub bored for {bush_size}: same size; bore and keyway must still match the shaft."
    ),
    "longer_bush_in_hub": _(
        "Bush {fitted_bush_size} in a hub bored for {bush_size}: equal large end ({large_end_mm:.1mm}) and screws. "
        "The bush projects {difference_mm:.1mm} past the hub: it needs a through hub bore, free room behind it and "
        "shaft length, with torque limited to the short size; check the depth of the screw holes."
    ),
    "shorter_bush_in_hub": _(
        "Bush {fitted_bush_size} in a hub bored for {bush_size}: equal large end ({large_end_mm:.1mm}). "
        "{difference_mm:.1mm} of hub bore stay unsupported: shorter key and grip, torque limited to the short size; "
        "check the bore range again."
    ),
    "longer_qd_bush_in_hub": _(
        "Bush {fitted_bush_size} in a hub bored for {bush_size}: same cone and bolt circle. "
        "The barrel projects past the hub: room and shaft length are needed."
    ),
    "shorter_qd_bush_in_hub": _(
        "Bush {fitted_bush_size} in a hub bored for {bush_size}: same cone and bolt circle, shorter barrel. "
        "The torque is that of the {fitted_bush_size}."
    ),
    "bush_cones_differ": filled(
        _("Bush {fitted_bush_size} in a hub bored for {bush_size}: the cones differ{large_ends}."),
        large_ends=phrases.large_ends,
    ),
    "taper_and_qd_hubs_differ": _(
        "Bush {fitted_bush_size} in a hub bored for {bush_size}: taper and QD bushes have different hubs."
    ),
    "bush_of_own_size_may_fit": _("Record the shaft: a bush of the hub's own size may fit it."),
    "bush_takes_shaft": _("Takes a {bush_size} bush; with a {bore_mm:size} bore it fits this shaft: {step}."),
    "bush_on_shelf": _("One is on the shelf."),
    "bush_stock_not_checked": _("Make sure that one is on the shelf."),
    "no_bush_on_shelf": filled(
        _(
            "The {bush_size} hub needs its bush, and no {bush_size} bush with {bore_mm:size} bore is free on any shelf "
            "({free_bores})."
        ),
        free_bores=phrases.free_bores,
    ),
    "bush_has_to_be_bought": _("With that bush the hub would go on this shaft: it has to be bought first."),
    "bush_not_in_tables": _("Bush {bush_size} is not in the tables: look up its bore range."),
    "bush_bores_not_confirmed": _(
        "The bores of {bush_size} bushes were never seen in a source: a bush with {bore_mm:size} bore has to be found first."
    ),
    "bush_bore_in_no_confirmed_list": _(
        "A {bush_size} bush with {bore_mm:size} bore is in no confirmed list: find the bush first."
    ),
    "shaft_too_large_for_bush": _(
        "The shaft is {shaft_mm:size}; a {bush_size} bush is listed with bores from {least_bore_mm:size} "
        "to {most_bore_mm:size}."
    ),
    "shaft_below_listed_bush_bores": _(
        "The shaft is {shaft_mm:size}; a {bush_size} bush is listed with bores from {least_bore_mm:size} "
        "to {most_bore_mm:size}. Some makers list smaller bores: ask."
    ),
    "shaft_key_for_bush_not_recorded": _(
        "The key of the {shaft_mm:size} shaft is not recorded: measure it; the bush has a keyway of its own standard."
    ),
    "shelf_bush_keyway_fits": _("The bush on the shelf has a {keyway_mm:size} keyway."),
    "shelf_bush_keyway_differs": _(
        "The bush on the shelf has a {keyway_mm:size} keyway, the key is {key_mm:size}: same bore, other key standard."
    ),
    "shelf_bush_keyway_shallow": _(
        "The bush on the shelf has a shallow keyway, {depth_mm:.2mm} deep; the key on the shaft needs {needed_depth_mm:.2mm}. "
        "It needs a lower key: measure bush and key before one is made."
    ),
    "bush_keyway_depth_not_listed": _(
        "Whether a {bush_size} bush with {bore_mm:size} bore has a shallow keyway is not settled by the lists: "
        "look at the bush."
    ),
    "bush_keyway_shallow": _(
        "A {bush_size} bush with {bore_mm:size} bore has a shallow keyway: it needs a lower key. "
        "Measure the bush before the key is made."
    ),
    "bush_keyway_less_deep": _(
        "A bush of this bore is made with a keyway {depth_mm:.2mm} deep ({key_standard}); the key on the shaft needs "
        "{needed_depth_mm:.2mm}. Look at the bush: it may need a lower key."
    ),
    "bush_keyway_as_listed": _("A bush of this bore is made with a {keyway_mm:size} keyway."),
    "inch_bush_keyway_differs": _(
        "The key is {key_mm:size}; a European bush of this inch bore has a {keyway_mm:size} keyway ({key_standard}). "
        "Check the bush before it is fitted."
    ),
    "metric_bush_keyway_differs": _(
        "The key is {key_mm:size}; a bush of this bore has a {keyway_mm:size} keyway ({key_standard}). "
        "Check the bush before it is fitted."
    ),
}

KEYS: dict[str, Sentence] = {
    "shaft_key_not_recorded": _("The key of the {shaft_mm:size} shaft is not recorded: measure its width."),
    "shaft_key_for_boring_not_recorded": _(
        "The key of the {shaft_mm:size} shaft is not recorded: measure its width, then the hub can be bored and slotted."
    ),
    "keyway_not_recorded": _("Whether the bore has a keyway, and how wide, is not recorded: look at it."),
    "keyway_fits_key": filled(_("Keyway {keyway_mm:size} for a {key} key."), key=phrases.key),
    "keyway_too_narrow": filled(
        _(
            "Keyway {keyway_mm:size}, key {key_width_mm:size}: the key does not enter. Recut the keyseat to {key}; "
            "a stepped key is a modification and has to be recorded as one."
        ),
        key=phrases.key,
    ),
    "keyway_too_wide": _(
        "Keyway {keyway_mm:size}, key {key_width_mm:size}: {play_mm:.2mm} play at the key's sides, it rolls over. "
        "A stepped key or a second keyseat is a modification that somebody responsible has to approve."
    ),
    "keyway_too_shallow": _(
        "Equal key width {key_width_mm:size}, but the hub keyway is {depth_mm:.2mm} deep and the key needs "
        "{needed_depth_mm:.2mm}: deepen it, or the hub rides on the key."
    ),
    "keyway_may_be_too_shallow": _(
        "The depth of the candidate's keyway is not recorded; the key needs {needed_depth_mm:.2mm}, and keyways of this "
        "width are also made {usual_depth_mm:.2mm} deep: measure it."
    ),
    "keyseat_depth_not_known": filled(
        _(
            "How deep the hub keyseat of a {key} key is cut is not recorded and in no table: measure how far the key stands "
            "out of the shaft."
        ),
        key=phrases.key,
    ),
    "keyway_depth_not_recorded": _("The depth of the candidate's keyway is not recorded: try the key in it."),
    "keyseat_cut_to_shaft_key": filled(
        _("The keyseat is cut to the key on the shaft: {key}."), key=phrases.key
    ),
}


def _shop_time(values: Mapping[str, Shown]) -> str:
    if values["basis"] == "recorded":
        return gettext("About {minutes} minutes in the shop.").format_map(values)
    return gettext("About {minutes} minutes in the shop (estimate).").format_map(values)


BORING: dict[str, Sentence] = {
    "plate_too_thin_for_key": _(
        "A plate is too thin to carry a key: it needs a hub welded or bolted on, trued after welding, with the teeth kept cool."
    ),
    "split_hub_to_open": _(
        "A split hub of {bore_mm:size} can only be opened with its halves bolted up: ask the shop whether it can."
    ),
    "shaft_beyond_greatest_bore": _(
        "Bore {bore_mm:size} can be opened to {greatest_bore_mm:size} at most; the shaft is {shaft_mm:size}."
    ),
    "wall_over_keyseat_too_thin": with_enough_decimals(
        _(
            "Bored to {shaft_mm:size}, the hub ({hub_mm:size}) keeps {wall_mm:.1mm} over the keyseat; "
            "{least_wall_mm:.1mm} are needed: it would crack from the keyseat corner."
        ),
        "wall_mm",
        "least_wall_mm",
    ),
    "recorded_greatest_bore_allows_it": _(
        "The recorded greatest bore ({greatest_bore_mm:size}) allows it: somebody has to decide."
    ),
    "greatest_bore_not_recorded": _(
        "Bore {bore_mm:size}, shaft {shaft_mm:size}: how far it may be bored is not recorded; "
        "measure the hub and check the wall over the keyseat."
    ),
    "pilot_bore_to_finish": _("Pilot bore {bore_mm:size}, shaft {shaft_mm:size}: {steps}."),
    "bore_to_open": _("Bore {bore_mm:size}, shaft {shaft_mm:size}: {steps}."),
    "pilot_bore_fits_shaft": _("Pilot bore {bore_mm:size}, shaft {shaft_mm:size}: it goes on as it is."),
    "wall_left_over_key": _("The wall left over the key is {wall_mm:.1mm} ({least_wall_mm:.1mm} needed)."),
    "shop_time": _shop_time,
    "pilot_bore_not_recorded": _("The pilot bore is not recorded on one side: measure it."),
    "pilot_bore_too_large": _(
        "Its pilot bore {bore_mm:size} is larger than {replaced_bore_mm:size}: it cannot be used on small shafts."
    ),
    "pilot_bore_takes_same_shafts": _(
        "Pilot bore {bore_mm:size}: takes every shaft that the other could be bored for."
    ),
    "greatest_bore_smaller": _(
        "The part it replaces can be bored to {replaced_greatest_bore_mm:size}, this one to {greatest_bore_mm:size}: "
        "record the shaft it is for."
    ),
    "greatest_bore_to_compare_not_recorded": _(
        "The part it replaces can be bored to {replaced_greatest_bore_mm:size}; for this one it is not recorded: "
        "record the shaft it is for."
    ),
}

SENTENCES: dict[str, Sentence] = {**SHAFT, **BUSHES, **KEYS, **BORING}
