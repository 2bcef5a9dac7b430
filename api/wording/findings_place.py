"""What the drive says about a candidate on it: ratio, rating, torque, hardness, chain wear, lifting."""

from django.utils.translation import gettext_lazy as _

from api.wording import phrases
from api.wording.figures import Sentence, filled, with_enough_decimals

RATIO: dict[str, Sentence] = {
    "ratio_tolerance_not_recorded": filled(
        _(
            "{speed}. What this drive allows is not recorded, so another number of teeth is not offered: "
            "record its ratio tolerance first."
        ),
        speed=phrases.speed,
    ),
    "ratio_beyond_tolerance": filled(_("{speed}; its limit is {limit_percent:g} %."), speed=phrases.speed),
    "take_up_not_recorded": filled(
        _(
            "{speed} (its limit is {limit_percent:g} %). Chain length or centre distance is not recorded, so whether the "
            "drive can take it up was not checked: measure it."
        ),
        speed=phrases.speed,
    ),
    "ratio_change_not_taken_up": filled(
        _("{speed} (its limit is {limit_percent:g} %), but the drive cannot take it up."), speed=phrases.speed
    ),
    "ratio_within_tolerance": filled(_("{speed} (its limit is {limit_percent:g} %)."), speed=phrases.speed),
    "shafts_move_with_same_chain": filled(_("The same chain needs the shafts {shift}."), shift=phrases.shift),
    "shafts_move_with_other_chain": filled(
        _("A chain of {links} links needs the shafts {shift}."), shift=phrases.shift
    ),
    "tips_touch": _(
        "At {centre_mm:.1mm} between centres the tips of the two wheels touch; wheels with the largest tips that the standard "
        "allows need {least_centre_mm:.1mm}."
    ),
    "tips_may_touch": _(
        "At {centre_mm:.1mm} between centres the tips of the two wheels may touch: the largest that the standard allows need "
        "{least_centre_mm:.1mm}. Measure both outside diameters."
    ),
    "take_up_room": _("The take-up has {room_mm:mm} that way."),
    "take_up_room_not_recorded": _("How far the shafts can be moved is not recorded."),
}

RATING: dict[str, Sentence] = {
    "rating_power_or_speed_not_recorded": _(
        "The rating was not checked: power and speed of this drive are not both recorded."
    ),
    "rating_teeth_or_strands_not_recorded": _(
        "The rating was not checked: teeth or strands are not recorded."
    ),
    "rating_role_not_recorded": _(
        "The rating was not checked: whether this sprocket drives or is driven is not recorded."
    ),
    "rating_mating_sprocket_not_recorded": _(
        "The rating was not checked: the mating sprocket is not recorded."
    ),
    "rating_service_factor_not_recorded": _(
        "The rating was not checked: the service factor is not recorded; without one, {used_share:.0%} of the rating "
        "would be used."
    ),
    "rating_chain_not_standard": _(
        "The rating was not checked: the chain is outside the standards that ratings are published for."
    ),
    "rating_out_of_range": _(
        "The rating was not checked: the rating equations do not hold for {teeth:g} teeth at {speed_rpm:g} rpm."
    ),
    "no_rating_for_strands": _(
        "The rating was not checked: no strand factor is published for {strands} strands."
    ),
    "no_rating_for_double_pitch": _(
        "The rating was not checked: no rating equation for double-pitch chain ({chain}) was read in print; ask the maker."
    ),
    "no_rating_for_chain": _(
        "The rating was not checked: the rating equations cover ASME 25 to 240 and ISO 606 B-series of 6.35 to 76.2 mm pitch, not {chain}."
    ),
    "rating_used": with_enough_decimals(
        _(
            "{design_power_kw:.2f} kW design power, {rated_power_kw:.2f} kW rated at {teeth:g} teeth: {used_share:.0%} used."
        ),
        "design_power_kw",
        "rated_power_kw",
        "used_share",
    ),
    "rating_used_more_than_before": with_enough_decimals(
        _(
            "{design_power_kw:.2f} kW design power, {rated_power_kw:.2f} kW rated at {teeth:g} teeth: {used_share:.0%} used, "
            "more than the {share_before:.0%} that the drive ran at before."
        ),
        "design_power_kw",
        "rated_power_kw",
        "used_share",
    ),
    "rating_in_galling_region": with_enough_decimals(
        _(
            "{design_power_kw:.2f} kW design power, {rated_power_kw:.2f} kW rated at {teeth:g} teeth: {used_share:.0%} used, "
            "but the speed is in the galling region: ask the chain's maker about lubrication."
        ),
        "design_power_kw",
        "rated_power_kw",
        "used_share",
    ),
    "rating_overloaded": with_enough_decimals(
        _(
            "{design_power_kw:.2f} kW design power, {rated_power_kw:.2f} kW rated at {teeth:g} teeth: {used_share:.0%} used, "
            "so the chain is overloaded."
        ),
        "design_power_kw",
        "rated_power_kw",
        "used_share",
    ),
    "rating_none_at_this_speed": _(
        "{design_power_kw:.2f} kW design power, but at {teeth:g} teeth and this speed the chain has no rating, because it "
        "galls: overloaded."
    ),
    "drive_load_before": _("Until now it used {share_before:.0%}."),
    "drive_load_before_not_known": _("How much of the rating it used until now is not known."),
    "drive_overloaded_already": _("The drive is overloaded already; this part does not change that."),
    "rated_by_older_tables": _("Rated by the older generation of tables; newer ones rate higher."),
    "rating_limited_by": _("Limited by {limit:words}."),
}

TORQUE: dict[str, Sentence] = {
    "bush_torque_capacity_not_known": _(
        "{torque_nm:.0f} Nm go through the bush; what a {bush_size} carries was never seen in a source."
    ),
    "bush_torque_without_service_factor": _(
        "{torque_nm:.0f} Nm go through the bush before any service factor, which is not recorded; "
        "a {bush_size} carries {capacity_nm:.0f} Nm."
    ),
    "bush_carries_torque": with_enough_decimals(
        _("{torque_nm:.0f} Nm design torque, a {bush_size} bush carries {capacity_nm:.0f} Nm."),
        "torque_nm",
        "capacity_nm",
    ),
    "bush_slips": with_enough_decimals(
        _("{torque_nm:.0f} Nm design torque, a {bush_size} bush carries {capacity_nm:.0f} Nm: it slips."),
        "torque_nm",
        "capacity_nm",
    ),
    "bush_overloaded_already": _(
        "The bush on the shaft is overloaded as it stands; this part does not change that."
    ),
    "length_of_key_contact_not_recorded": filled(
        _(
            "{torque_nm:.0f} Nm go through a {key} key, and the candidate's length through bore is not recorded: "
            "measure how long the key bears."
        ),
        key=phrases.key,
    ),
    "key_pressure_depth_not_known": filled(
        _("The pressure of the {key} key was not checked: how deep it stands in the hub is not known."),
        key=phrases.key,
    ),
    "key_pressure_high": filled(
        _(
            "{torque_nm:.0f} Nm through a {key} key over {length_mm:mm} press {pressure_mpa:.0f} N/mm² on the hub keyway; "
            "above {limit_mpa:g} N/mm² an engineer has to look at it."
        ),
        key=phrases.key,
    ),
}

DUTY: dict[str, Sentence] = {
    "fast_driver_hardness_not_recorded": _(
        "A driver of {teeth} teeth at {speed_rpm:g} rpm: small fast drivers are made with hardened teeth, and whether this "
        "candidate's are is not recorded: try a file on a tooth."
    ),
    "fast_driver_not_hardened": _(
        "A driver of {teeth} teeth at {speed_rpm:g} rpm: small fast drivers are made with hardened teeth, "
        "this candidate's are not."
    ),
    "chain_elongation_not_recorded": _(
        "No elongation of the chain in place is recorded: measure it over as many pitches as possible."
    ),
    "chain_wear_limit_not_known": _(
        "The chain in place is {elongation_percent:g} % longer than new; without a tooth count its limit is not known."
    ),
    "chain_wear_within_limit": _(
        "The chain in place is {elongation_percent:g} % longer than new; its limit is {limit_percent:.3g} %."
    ),
    "chain_worn_out": _(
        "The chain in place is {elongation_percent:g} % longer than new, its limit is {limit_percent:.3g} %: "
        "it ruins a new sprocket in weeks. Fit a new chain with it."
    ),
    "lifting_not_recorded": _("Whether this drive lifts a load or carries people is not recorded."),
    "not_a_lifting_drive": _("Not a lifting drive."),
    "lifting_drive_takes_no_substitute": _(
        "This drive lifts or carries people: no substitute is offered by this service, whatever fits. Only the maker's part, "
        "released by an authorised person under the local rules for lifting equipment."
    ),
}

SENTENCES: dict[str, Sentence] = {**RATIO, **RATING, **TORQUE, **DUTY}
