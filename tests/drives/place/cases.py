"""What a careful fitter expects of a part on a drive that he knows: the grade, the aspect that decides it, and the facts that are found."""

from dataclasses import dataclass

from drives.place.duty import Duty
from inventory.facts import Fact, fact
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.vocabulary import BoreType, Environment, Material
from tests.drives.place.samples import driven, driver, duty, sprocket
from tests.inventory.interchange.samples import bushed, chain, idler, idler_place, keyed

DROP_IN, WITH_WORK, NEEDS_REVIEW, UNFIT = "drop_in", "with_work", "needs_review", "unfit"
PRACTICE = "common practice, no source"
RATIO = "ratio = driven teeth / driver teeth"
RATING = "Shigley, sec. 17-5 (rating equations)"
WEAR = "trade sources: 3 %, 200/N % above 66 teeth, 1.5 % on fixed centres"


@dataclass(frozen=True)
class Case:
    name: str
    required: Requirement
    offered: Sprocket
    duty: Duty | None
    grade: str
    decided_by: str
    expected: Fact | tuple[Fact, ...]
    source: str


# fmt: off
CASES = [
    Case("the very part on a calm drive", driver(), sprocket(), duty(), DROP_IN, "rating", fact("rating_used", design_power_kw=0.78, teeth=19.0), RATING),
    Case("nothing known of the drive", driver(), sprocket(), None, DROP_IN, "mounting", fact("bore_fits_shaft"), "what is left out is not checked"),
    Case("one tooth more within the tolerance", driver(), sprocket(teeth=20), duty(), NEEDS_REVIEW, "teeth", (fact("ratio_within_tolerance", teeth=20.0, old_teeth=19.0, change_percent=5.3, limit_percent=6.0), fact("shafts_move_with_same_chain"), fact("take_up_room", room_mm=15.0)), RATIO),
    Case("one tooth more, tolerance too tight", driver(), sprocket(teeth=20), duty(ratio_tolerance_percent=5.0), UNFIT, "teeth", fact("ratio_beyond_tolerance", change_percent=5.3, limit_percent=5.0), RATIO),
    Case("one tooth more, no tolerance recorded", driver(), sprocket(teeth=20), duty(ratio_tolerance_percent=None), UNFIT, "teeth", fact("ratio_tolerance_not_recorded", teeth=20.0, old_teeth=19.0), RATIO),
    Case("one tooth less drives slower", driver(), sprocket(teeth=18), duty(), NEEDS_REVIEW, "teeth", fact("ratio_within_tolerance", change_percent=-5.3), RATIO),
    Case("one tooth more on the driven shaft is slower", driven(), sprocket(teeth=58), duty(mating_teeth=19), NEEDS_REVIEW, "teeth", fact("ratio_within_tolerance", change_percent=-1.7), RATIO),
    Case("fixed centres cannot take up one tooth", driver(), sprocket(teeth=20), duty(centre_adjustment_mm=None, fixed_centres=True), UNFIT, "teeth", (fact("ratio_change_not_taken_up"), fact("take_up_room", room_mm=0.0)), "exact chain length, form of ISO 10823"),
    Case("how far the shafts move is not recorded", driver(), sprocket(teeth=20), duty(centre_adjustment_mm=None), NEEDS_REVIEW, "teeth", (fact("ratio_within_tolerance"), fact("take_up_room_not_recorded")), "exact chain length, form of ISO 10823"),
    Case("mating teeth not recorded", driver(), sprocket(teeth=20), duty(mating_teeth=None), NEEDS_REVIEW, "teeth", fact("take_up_not_recorded"), PRACTICE),
    Case("another count of an idler", idler_place(minimum_teeth=15), idler(teeth=23), duty(), DROP_IN, "teeth", fact("idler_teeth_changed", teeth=23, required_teeth=17, least_teeth=15), "an idler does not enter the ratio"),
    Case("like for like under a power far above the chain", driver(), sprocket(), duty(power_kw=15.0), NEEDS_REVIEW, "rating", (fact("rating_overloaded", design_power_kw=19.5), fact("drive_overloaded_already")), RATING),
    Case("overloaded before a service factor is named", driver(), sprocket(), duty(power_kw=15.0, service_factor=None), NEEDS_REVIEW, "rating", fact("rating_overloaded", design_power_kw=15.0), RATING),
    Case("an overload by a rating taken over from another series", driver(), sprocket(teeth=18), duty(power_kw=15.0), NEEDS_REVIEW, "rating", (fact("rating_overloaded", design_power_kw=19.5), fact("rests_on_estimate", name="rated_power_times", kind="analogy", of="08B"), fact("rated_by_pitch")), RATING),
    Case("nearly the whole of a rating taken over from another series", driver(), sprocket(), duty(power_kw=0.75), NEEDS_REVIEW, "rating", (fact("rating_used"), fact("rests_on_estimate", name="rated_power_times")), RATING),
    Case("fewer teeth use more of the rating", driver(), sprocket(teeth=18), duty(), NEEDS_REVIEW, "rating", fact("rating_used_more_than_before", teeth=18.0), RATING),
    Case("the bush on the shaft slips as it always did", driver(chain=chain("16B"), shaft=keyed(24.0, 8.0, bush_size="1008")), bushed("1008", chain=chain("16B"), teeth=19), duty(power_kw=6.0, speed_rpm=100.0, centre_distance_mm=900.0), NEEDS_REVIEW, "mounting", (fact("bush_slips", bush_size="1008", capacity_nm=136.0), fact("bush_overloaded_already")), "taper-bush catalogue: 1008 carries 136 Nm"),
    Case("a bush that slips before a service factor is named", driver(chain=chain("16B"), shaft=keyed(24.0, 8.0, bush_size="1008")), bushed("1008", chain=chain("16B"), teeth=19), duty(power_kw=6.0, speed_rpm=100.0, service_factor=None), NEEDS_REVIEW, "mounting", fact("bush_slips", bush_size="1008", capacity_nm=136.0), "taper-bush catalogue: 1008 carries 136 Nm"),
    Case("a smaller bush than the one on the shaft slips", driver(chain=chain("16B"), shaft=keyed(24.0, 8.0, bush_size="1108")), bushed("1008", chain=chain("16B"), teeth=19), duty(power_kw=6.0, speed_rpm=100.0), UNFIT, "mounting", fact("bush_slips", bush_size="1008", capacity_nm=136.0), "taper-bush catalogue: 1008 carries 136 Nm, 1108 147 Nm"),
    Case("a bush that slips where there was none", driver(chain=chain("16B"), shaft=keyed(24.0, 8.0)), bushed("1008", chain=chain("16B"), teeth=19), duty(power_kw=6.0, speed_rpm=100.0), UNFIT, "mounting", fact("bush_slips", bush_size="1008"), "taper-bush catalogue: 1008 carries 136 Nm"),
    Case("a bush of unknown torque capacity", driver(shaft=keyed(bush_size="SDS")), bushed("SDS", bore_type=BoreType.QD, teeth=19), duty(), DROP_IN, "mounting", fact("bush_stays", bush_size="SDS"), "QD torque unseen, decides nothing"),
    Case("a short hub presses its key hard", driver(chain=chain("16B"), shaft=keyed(25.0, 8.0)), sprocket(chain=chain("16B"), length_through_bore_mm=17.0), duty(power_kw=3.0, speed_rpm=100.0), NEEDS_REVIEW, "mounting", fact("key_pressure_high", key_width_mm=8.0, length_mm=17.0, limit_mpa=100.0), "2T / (d (h - t1) L)"),
    Case("a hub of unknown length under a hard pressed key", driver(chain=chain("16B"), shaft=keyed(25.0, 8.0)), sprocket(chain=chain("16B"), length_through_bore_mm=None), duty(power_kw=3.0, speed_rpm=100.0), NEEDS_REVIEW, "mounting", fact("length_of_key_contact_not_recorded", key_width_mm=8.0), "2T / (d (h - t1) L)"),
    Case("a small fast driver with soft teeth", driver(hardened_teeth=None), sprocket(), duty(speed_rpm=700.0), NEEDS_REVIEW, "tooth_hardness", fact("fast_driver_not_hardened", teeth=19, speed_rpm=700.0), "stock lists harden through 25 teeth; 600 rpm from memory"),
    Case("a small fast driver, teeth unknown", driver(hardened_teeth=None), sprocket(hardened_teeth=None), duty(speed_rpm=700.0), NEEDS_REVIEW, "tooth_hardness", fact("fast_driver_hardness_not_recorded", teeth=19, speed_rpm=700.0), "stock lists harden through 25 teeth; 600 rpm from memory"),
    Case("a small slow driver with soft teeth", driver(hardened_teeth=None), sprocket(), duty(speed_rpm=500.0), DROP_IN, "mounting", fact("bore_fits_shaft"), "600 rpm from memory"),
    Case("a new sprocket under a chain worn out", driver(), sprocket(), duty(elongation_percent=3.1), WITH_WORK, "chain_wear", fact("chain_worn_out", elongation_percent=3.1, limit_percent=3.0), WEAR),
    Case("a worn chain on a large wheel", driven(teeth=100), sprocket(teeth=100), duty(mating_teeth=19, power_kw=0.3, elongation_percent=2.1), WITH_WORK, "chain_wear", fact("chain_worn_out", elongation_percent=2.1, limit_percent=2.0), WEAR),
    Case("a worn chain on fixed centres", driver(), sprocket(), duty(elongation_percent=1.6, fixed_centres=True, centre_adjustment_mm=None), WITH_WORK, "chain_wear", fact("chain_worn_out", elongation_percent=1.6, limit_percent=1.5), WEAR),
    Case("a double-pitch chain between the remembered limit and that of every chain", driver(chain=chain("2040"), single_cut=True), sprocket(chain=chain("2040"), single_cut=True), duty(elongation_percent=1.6), NEEDS_REVIEW, "chain_wear", (fact("chain_worn_out", limit_percent=1.5), fact("rests_on_estimate", name="double_pitch_wear_limit_percent", kind="memory")), "1.5 % from memory"),
    Case("a double-pitch chain beyond every limit", driver(chain=chain("2040"), single_cut=True), sprocket(chain=chain("2040"), single_cut=True), duty(elongation_percent=3.1), WITH_WORK, "chain_wear", fact("chain_worn_out", limit_percent=1.5), WEAR),
    Case("a chain half worn", driver(), sprocket(), duty(elongation_percent=1.6), DROP_IN, "chain_wear", fact("chain_wear_within_limit", elongation_percent=1.6, limit_percent=3.0), WEAR),
    Case("a hoist", driver(), sprocket(), duty(lifting=True), NEEDS_REVIEW, "duty", fact("lifting_drive_takes_no_substitute"), "licensed practice"),
    Case("a hoist with a bored-out part", driver(), sprocket(bore_mm=28.0), duty(lifting=True), UNFIT, "mounting", fact("metal_cannot_be_added"), PRACTICE),
    Case("a shocked drive and cast iron", driven(teeth=57), sprocket(teeth=57, material=Material.CAST_IRON), duty(mating_teeth=19, service_factor=1.5), UNFIT, "material", fact("cast_iron_under_shock"), "Complete Guide to Chain, table 4.2"),
    Case("a calm drive and a large cast wheel", driven(teeth=57), sprocket(teeth=57, material=Material.CAST_IRON), duty(mating_teeth=19, service_factor=1.0), NEEDS_REVIEW, "material", fact("cast_iron_for_steel"), "rule M2, common practice"),
    Case("food and a known drive", driver(food_contact_required=True, environment=frozenset({Environment.FOOD})), sprocket(food_contact=False), duty(), UNFIT, "duty", fact("declared_not", declaration="food_contact"), "rule M9, common practice"),
    Case("unknown cut stays unknown on a known drive", driver(chain=chain("2040")), sprocket(chain=chain("2040"), teeth=20), duty(), NEEDS_REVIEW, "teeth", fact("candidate_cut_not_recorded"), "geometry"),
    Case("an overload made worse is refused though the ratio is within", driver(chain=chain("08A")), sprocket(chain=chain("08A"), teeth=18), duty(power_kw=15.0), UNFIT, "rating", (fact("rating_overloaded"), fact("drive_load_before")), RATING),
    Case("an overload made less is for review", driver(), sprocket(teeth=20), duty(power_kw=15.0), NEEDS_REVIEW, "rating", (fact("rating_overloaded"), fact("drive_overloaded_already")), RATING),
    Case("an overload that the candidate brings about", driver(chain=chain("08A")), sprocket(chain=chain("08A"), teeth=18), duty(power_kw=0.9), UNFIT, "rating", (fact("rating_overloaded"), fact("drive_load_before")), RATING),
    Case("overloaded, what ran before is not known", driver(teeth=None), sprocket(), duty(power_kw=15.0), NEEDS_REVIEW, "rating", (fact("rating_overloaded"), fact("drive_load_before_not_known")), RATING),
]
# fmt: on
