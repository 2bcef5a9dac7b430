"""What a check of hub style, length and room found."""

from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence, with_enough_decimals

STYLE: dict[str, Sentence] = {
    "position_hub_style_not_recorded": _("The hub style that this position needs is not recorded."),
    "candidate_hub_style_not_recorded": _(
        "The candidate's hub style is not recorded; the position has type {required_style:words}: look at the part."
    ),
    "hub_style_equal": _("Hub style {hub_style:words} on both."),
    "hub_c_for_b": _("Type C for type B: turn one hub off; the chain line stays with the hub that you keep."),
    "hub_for_plate": _("The position takes a plate: turn the hub flush; bolt holes go inside the rim."),
    "hub_to_weld_on": _(
        "A hub must be welded or bolted on: this is hot work; true the part afterwards and keep the teeth cool."
    ),
    "hub_b_for_c": _(
        "Type B for type C: only where the missing hub carries no load; a spacer takes its place, and the key must be long "
        "enough."
    ),
    "split_hub_for_solid": _(
        "A split hub for a solid one: chosen for access; the joint bolts must clear the guard."
    ),
    "solid_hub_for_split": _(
        "A solid hub for a split one: the shaft end must be freed first, so the stop is longer."
    ),
    "hub_style_d_ambiguous": _(
        "Style D can mean a bolted hub or a split hub, depending on the maker: look at both parts."
    ),
    "hub_for_weld_on_rim": _(
        "The position takes a rim that is welded to an existing hub: the candidate's hub must be turned off to that register; "
        "compare the register first."
    ),
    "split_hub_for_plate": _(
        "The position takes a plate: a split hub cannot be turned flush, its joint bolts hold it together."
    ),
    "flange_not_recorded": _(
        "Flanged parts fit only when bolt circle, holes and register are all equal; they are not recorded: measure them."
    ),
    "flanged_for_other_style": _(
        "A flanged rim is held by its bolts: the holes are the interface, and no other style has them."
    ),
    "weld_on_rim_for_plate": _("A weld-on rim for a plate: compare the register bore and the bolt holes."),
}

LENGTH: dict[str, Sentence] = {
    "hub_length_not_recorded": _(
        "The candidate's length through bore is not recorded; there is room for {room_mm:size}: measure it."
    ),
    "hub_length_fits": _("Length through bore {length_mm:size}, room for {room_mm:size}."),
    "hub_shorter": _(
        "Length through bore {length_mm:size}, room for {room_mm:size}: {difference_mm:.1mm} shorter, set the chain line when "
        "you fit it."
    ),
    "hub_to_face": with_enough_decimals(
        _(
            "Length through bore {length_mm:size}, room for {room_mm:size}: face {excess_mm:.1mm} off the hub; "
            "{room_mm:.1mm} are left for the key."
        ),
        "length_mm",
        "room_mm",
        "excess_mm",
    ),
    "hub_too_long_style_not_recorded": _(
        "Length through bore {length_mm:size}, room for {room_mm:size}; it is not recorded whether there is a hub to face off: "
        "look at the part."
    ),
    "hub_too_long": with_enough_decimals(
        _(
            "Length through bore {length_mm:size}, room for {room_mm:size}: {excess_mm:.1mm} too long, and there is no hub to "
            "face off."
        ),
        "length_mm",
        "room_mm",
        "excess_mm",
    ),
    "bushed_hub_too_long": with_enough_decimals(
        _(
            "Length through bore {length_mm:size}, room for {room_mm:size}: {excess_mm:.1mm} too long, and a bushed hub cannot "
            "be shortened."
        ),
        "length_mm",
        "room_mm",
        "excess_mm",
    ),
}

ROOM: dict[str, Sentence] = {
    "position_room_not_recorded": _(
        "The room that guard and neighbours leave is not recorded: turn the drive by hand before you refit the guard."
    ),
    "outside_diameter_not_recorded": _(
        "The candidate's outside diameter is not recorded; the guard leaves {room_mm:size}: measure it."
    ),
    "outside_diameter_may_foul": _(
        "The outside diameter is not recorded; with {teeth} teeth it lies from {smallest_mm:.1mm} to {largest_mm:.1mm} and "
        "the guard leaves {room_mm:size}: measure it."
    ),
    "chain_on_wheel_not_known": _(
        "Chain or teeth are not recorded, so it is not known how high the chain lies on the wheel under the guard."
    ),
    "plate_height_not_recorded": _(
        "How high the plates of the {chain} chain are is not known: on the wheel it measures {most_mm:.1mm} at most, and the "
        "guard leaves {room_mm:.1mm}. Measure over the chain on the wheel."
    ),
    "diameter_fits": with_enough_decimals(
        _("{diameter:Words} {diameter_mm:.1mm}, room for {room_mm:.1mm}."), "diameter_mm", "room_mm"
    ),
    "little_room_under_guard": _(
        "Only {left_mm:.1mm} of the diameter are left under the guard: turn the drive by hand before you restart it."
    ),
    "chain_exceeds_unmeasured_room": with_enough_decimals(
        _(
            "{diameter:Words} {diameter_mm:.1mm} is {excess_mm:.1mm} more than the recorded room of {room_mm:.1mm}; that "
            "room was never measured: measure it."
        ),
        "diameter_mm",
        "room_mm",
        "excess_mm",
    ),
    "diameter_exceeds_old_part": with_enough_decimals(
        _(
            "{diameter:Words} {diameter_mm:.1mm} is {excess_mm:.1mm} larger than the old part; the room under the guard was "
            "never measured: measure it."
        ),
        "diameter_mm",
        "room_mm",
        "excess_mm",
    ),
    "diameter_fouls_guard": with_enough_decimals(
        _(
            "{diameter:Words} {diameter_mm:.1mm}, room for {room_mm:.1mm}: it fouls the guard by {excess_mm:.1mm}."
        ),
        "diameter_mm",
        "room_mm",
        "excess_mm",
    ),
    "hub_never_turned_down": _("A hub of this kind cannot be turned down."),
    "hub_diameter_not_recorded": _(
        "The candidate's hub diameter is not recorded; there is room for {room_mm:size}: measure it."
    ),
    "hub_to_turn_down_style_not_recorded": _(
        "The hub ({hub_mm:size}) must be turned down to {room_mm:size}; the hub's style is not recorded, so it is not known "
        "whether it can be: look at the part."
    ),
    "hub_to_turn_down_shaft_not_recorded": _(
        "The hub ({hub_mm:size}) must be turned down to {room_mm:size}; the shaft's size is not recorded, so it is not known "
        "whether it can be: measure the shaft."
    ),
    "hub_wall_too_thin_to_turn": with_enough_decimals(
        _(
            "Hub diameter {hub_mm:size}, room for {room_mm:size}: turned down, the hub keeps only {wall_mm:.1mm} over the "
            "keyseat ({least_wall_mm:.1mm} needed)."
        ),
        "wall_mm",
        "least_wall_mm",
    ),
    "hub_without_wall_if_turned": _(
        "Hub diameter {hub_mm:size}, room for {room_mm:size}: turned down, the hub has no wall left over the keyseat "
        "({least_wall_mm:.1mm} needed)."
    ),
    "hub_to_turn_down": _(
        "Hub diameter {hub_mm:size}, room for {room_mm:size}: turn the hub down; {wall_mm:.1mm} stay over the keyseat."
    ),
}

SENTENCES: dict[str, Sentence] = {**STYLE, **LENGTH, **ROOM}
