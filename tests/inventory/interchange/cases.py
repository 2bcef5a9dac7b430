"""What a careful fitter expects, case by case: the grade, the aspect that decides it, and the facts that are found.

Expectations were written from the rules of the trade before the code was run. `source` names what they rest on; where
it says "common practice, no source", no published document was found.
"""

from dataclasses import dataclass

from inventory.facts import Fact, fact
from inventory.interchange.bushing import BushAtHand, BushesAtHand
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.vocabulary import (
    BoreType,
    Environment,
    HubStyle,
    KeyStandard,
    Material,
    PositionRole,
)
from tests.inventory.interchange.samples import (
    SPLINED,
    bushed,
    chain,
    copied_room,
    custom_chain,
    hex_shaft,
    hexed,
    idler,
    idler_place,
    keyed,
    part,
    pilot,
    pin,
    place,
    plain_shaft,
    qd,
    room,
)

DROP_IN, WITH_WORK, NEEDS_REVIEW, UNFIT = "drop_in", "with_work", "needs_review", "unfit"
PRACTICE = "common practice, no source"
ISO_606 = "ISO 606 dimensions"
ISO_773 = "ISO 773"
WET = frozenset({Environment.WASHDOWN})


@dataclass(frozen=True)
class Case:
    name: str
    required: Requirement
    offered: Sprocket
    grade: str
    decided_by: str
    expected: Fact | tuple[Fact, ...]
    source: str
    bushes: BushesAtHand | None = None


def on_chain(name, strands=1, **changes):
    return place(chain=chain(name), strands=strands, **changes)


def cut_for(name, strands=1, **changes):
    return part(chain=chain(name), strands=strands, **changes)


def shelf(*bushes):
    return BushesAtHand(bushes)


# fmt: off
CHAINS = [
    Case("heavy chain, one strand, standard rim", on_chain("60H"), cut_for("60"), DROP_IN, "chain", fact("equal_chain", chain="12AH", rim="12A", roller_mm=11.91, rim_roller_mm=11.91, side_play_mm=0.63), "ASME B29.1"),
    Case("standard chain, one strand, heavy rim", on_chain("60"), cut_for("60H"), DROP_IN, "chain", fact("equal_chain", chain="12A", rim="12AH", roller_mm=11.91, rim_roller_mm=11.91, side_play_mm=0.63), "ASME B29.1"),
    Case("heavy duplex chain on a standard duplex rim", on_chain("60H", 2), cut_for("60", 2), UNFIT, "chain", fact("rows_do_not_line_up", chain="12AH", rim="12A", chain_row_distance_mm=26.11, rim_row_distance_mm=22.78, difference_mm=3.33), "ASME B29.1"),
    Case("160 and 32B duplex have equal rows, and the 32B roller still sits tight", on_chain("32B", 2), cut_for("160", 2), NEEDS_REVIEW, "chain", fact("roller_tight_in_seat", roller_mm=29.21, seat_min_mm=28.87), ISO_606),
    Case("160 chain in a 32B duplex rim is loose", on_chain("160", 2), cut_for("32B", 2), UNFIT, "chain", fact("roller_too_small", chain="32A", rim="32B", roller_mm=28.58, difference_mm=0.63), ISO_606),
    Case("heavy 240 duplex, row distance only remembered", on_chain("240H", 2), cut_for("240", 2), NEEDS_REVIEW, "chain", fact("rests_on_estimate", name="transverse_pitch_mm", of="48AH", kind="memory"), "ASME B29.1, 240H row distance unseen"),
    Case("10A duplex on 10B duplex", on_chain("10A", 2), cut_for("10B", 2), UNFIT, "chain", fact("rows_do_not_line_up", chain="10A", rim="10B", chain_row_distance_mm=18.11, rim_row_distance_mm=16.59, difference_mm=1.52), ISO_606),
    Case("10A simplex on 10B simplex", on_chain("10A"), cut_for("10B"), NEEDS_REVIEW, "chain", fact("side_play_small", side_play_mm=0.23), ISO_606),
    Case("one strand on a duplex rim", on_chain("08B", 1), cut_for("08B", 2), NEEDS_REVIEW, "strands", fact("rows_more_than_strands", strands=1, rows=2), PRACTICE),
    Case("duplex chain on a single row", on_chain("08B", 2), cut_for("08B", 1), UNFIT, "strands", fact("rows_too_few", strands=2, rows=1), PRACTICE),
    Case("triplex chain on a duplex rim", on_chain("16B", 3), cut_for("16B", 2), UNFIT, "strands", fact("rows_too_few", strands=3, rows=2), PRACTICE),
    Case("duplex rim where only a single row has room", on_chain("08B", 1, envelope=room(length_through_bore_mm=15.0)), cut_for("08B", 2, length_through_bore_mm=15.0), UNFIT, "strands", fact("rows_too_wide", rows=2, width_mm=20.97, room_mm=15.0), "ISO 606 tooth width and transverse pitch"),
    Case("duplex rim where the room was copied from the old part", on_chain("08B", 1, envelope=copied_room(length_through_bore_mm=15.0)), cut_for("08B", 2, length_through_bore_mm=15.0), NEEDS_REVIEW, "strands", fact("room_copied_from_old_part"), PRACTICE),
    Case("strands of the candidate not counted", on_chain("08B"), cut_for("08B", None), NEEDS_REVIEW, "strands", fact("candidate_strands_not_recorded"), PRACTICE),
    Case("double-pitch chain, 30 teeth of single pitch", on_chain("2040", teeth=15, single_cut=True), cut_for("40", teeth=30), NEEDS_REVIEW, "chain", fact("every_second_gap", teeth=30, short_share=0.0055), "chord 2p cos(180°/z), computed"),
    Case("double-pitch chain, 20 teeth of single pitch", on_chain("2040", teeth=10, single_cut=True), cut_for("40", teeth=20), NEEDS_REVIEW, "chain", (fact("every_second_gap_too_few_teeth", teeth=20, least_teeth=24), fact("rests_on_estimate", name="double_pitch_no_below_teeth")), "chord 2p cos(180°/z), computed"),
    Case("large rollers never on a single-pitch rim", on_chain("C2042", teeth=30), cut_for("40", teeth=30), UNFIT, "chain", fact("large_rollers_on_single_pitch"), "ASME B29.4 rollers"),
    Case("large rollers on the double-pitch rim of small ones", on_chain("C2042"), cut_for("C2040", single_cut=True), UNFIT, "chain", fact("roller_too_large", chain="C208AL", rim="C208A", roller_mm=15.88, seat_max_mm=8.3), "ASME B29.4 rollers"),
    Case("double-cut rim of twice the teeth for a single-cut one", on_chain("2040", teeth=15, single_cut=True), cut_for("2040", teeth=30, single_cut=False), DROP_IN, "teeth", fact("teeth_equal_in_every_second_gap", teeth=30, effective_teeth=15.0), "geometry"),
    Case("double-cut rim of the same count for a single-cut one", on_chain("2040", teeth=15, single_cut=True), cut_for("2040", teeth=15, single_cut=False), UNFIT, "teeth", fact("teeth_differ_by_cut", teeth=15, effective_teeth=7.5, required_effective_teeth=15.0), "geometry"),
    Case("double pitch, single or double cut not recorded", on_chain("2040", teeth=15), cut_for("2040", teeth=15), NEEDS_REVIEW, "teeth", fact("candidate_cut_not_recorded"), "geometry"),
    Case("single-pitch chain on a double-cut rim", on_chain("40"), cut_for("2040", single_cut=False), UNFIT, "chain", fact("pitch_differs", chain_pitch_mm=12.7, rim_pitch_mm=25.4), "geometry"),
    Case("motorcycle 428 on an 08B rim, equal on paper", on_chain("428"), cut_for("08B"), DROP_IN, "chain", fact("equal_chain", chain="428", rim="08B", roller_mm=8.51, rim_roller_mm=8.51, side_play_mm=0.54), "dimensions of trade pages"),
    Case("motorcycle 520 on a 50 rim", on_chain("520"), cut_for("50"), UNFIT, "chain", fact("tooth_too_wide", chain="520", rim="10A", tooth_width_mm=8.93, inner_width_mm=6.35), "dimensions of trade pages"),
    Case("a chain outside the standards on a rim cut for it", place(chain=custom_chain(20.0, 12.0, 11.0)), part(chain=custom_chain(20.0, 12.0, 11.0)), DROP_IN, "chain", fact("same_chain", chain="20 × 11 mm"), PRACTICE),
    Case("two chains outside the standards, rim measured too wide", place(chain=custom_chain(20.0, 12.0, 11.0)), part(chain=custom_chain(20.0, 12.0, 11.2), tooth_width_mm=11.1), UNFIT, "chain", fact("tooth_too_wide", chain="20 × 11 mm", rim="20 × 11.2 mm", tooth_width_mm=11.1, inner_width_mm=11.0), "a wider tooth does not enter"),
    Case("two strands outside the standards, row distance not measured", place(chain=custom_chain(20.0, 12.0, 11.0), strands=2), part(chain=custom_chain(20.0, 12.0, 11.0), strands=2), NEEDS_REVIEW, "chain", fact("row_distance_not_recorded"), PRACTICE),
    Case("metric 8 mm against five sixteenths", place(chain=custom_chain(7.9375, 5.0, 3.0)), cut_for("05B"), UNFIT, "chain", fact("pitch_differs", chain_pitch_mm=7.94, rim_pitch_mm=8.0), "0.0625 mm from tooth to tooth"),
    Case("chain of the candidate not recorded", place(), part(chain=None), NEEDS_REVIEW, "chain", fact("candidate_chain_not_recorded"), PRACTICE),
]

TEETH = [
    Case("one tooth more", place(), part(teeth=18), UNFIT, "teeth", fact("teeth_differ", teeth=18, required_teeth=17), "ratio = driven / driver"),
    Case("teeth of the candidate not counted", place(), part(teeth=None), NEEDS_REVIEW, "teeth", fact("candidate_teeth_not_recorded"), PRACTICE),
    Case("an idler of more teeth", idler_place(minimum_teeth=15), idler(teeth=21), DROP_IN, "teeth", fact("idler_teeth_changed", teeth=21, required_teeth=17, least_teeth=15), "an idler does not enter the ratio"),
    Case("an idler below its least count", idler_place(minimum_teeth=17), idler(teeth=15), UNFIT, "teeth", fact("idler_teeth_too_few", teeth=15, least_teeth=17), PRACTICE),
    Case("an idler of few teeth, no least count recorded", idler_place(), idler(teeth=13), NEEDS_REVIEW, "teeth", fact("idler_teeth_few", teeth=13, least_teeth=17), "17 for idlers is from memory"),
]

MOUNTINGS = [
    Case("equal bore and key", place(), part(), DROP_IN, "mounting", fact("bore_fits_shaft", bore_mm=25.0, shaft_mm=25.0), ISO_773),
    Case("an inch bore on a 25 mm shaft", place(), part(bore_mm=25.4, key_standard=None, keyway_depth_mm=None), UNFIT, "mounting", (fact("bore_too_large", bore_mm=25.4, shaft_mm=25.0, excess_mm=0.4), fact("bore_looks_like_a_fit")), "25.4 mm per inch, exactly"),
    Case("a 25 mm bore on an inch shaft", place(shaft=keyed(25.4, 6.35)), part(max_bore_mm=28.0), WITH_WORK, "mounting", fact("bore_to_shaft", bore_mm=25.4), "25.4 mm per inch, exactly"),
    Case("three quarters on 19 mm", place(shaft=keyed(19.0, 6.0)), part(bore_mm=19.05, keyway_width_mm=6.0), UNFIT, "mounting", (fact("bore_too_large", bore_mm=19.05, shaft_mm=19.0, excess_mm=0.05), fact("bore_looks_like_a_fit")), "0.05 mm play"),
    Case("100 mm on 3 15/16 in lies inside H8 and is still smaller", place(shaft=keyed(100.0125, 25.4)), part(bore_mm=100.0, keyway_width_mm=28.0, hub_diameter_mm=170.0), WITH_WORK, "mounting", fact("bore_to_shaft", bore_mm=100.0125), "0.0125 mm apart; keys 28 mm and 1 in"),
    Case("bore rounded to two decimals is the same size", place(shaft=keyed(15.875, 4.7625)), part(bore_mm=15.88, keyway_width_mm=4.76, keyway_depth_mm=None, key_standard=None), DROP_IN, "mounting", fact("bore_fits_shaft", bore_mm=15.88, shaft_mm=15.875), "0.006 mm: judgement"),
    Case("pilot bore, 35 mm shaft", place(shaft=keyed(35.0, 10.0)), pilot(16.0, 42.0, hub_diameter_mm=70.0), WITH_WORK, "mounting", (fact("bore_to_shaft", bore_mm=35.0), fact("cut_keyseat", key_width_mm=10.0, key_height_mm=8.0), fact("wall_left_over_key", wall_mm=14.2, least_wall_mm=3.5)), ISO_773),
    Case("pilot bore that ends before the shaft", place(shaft=keyed(35.0, 10.0)), pilot(16.0, 32.0, hub_diameter_mm=70.0), UNFIT, "mounting", fact("shaft_beyond_greatest_bore", bore_mm=16.0, greatest_bore_mm=32.0, shaft_mm=35.0), "greatest bore as recorded"),
    Case("hub without wall for the keyway", place(shaft=keyed(35.0, 10.0)), pilot(16.0, hub_diameter_mm=42.0), UNFIT, "mounting", fact("wall_over_keyseat_too_thin", shaft_mm=35.0, hub_mm=42.0, wall_mm=0.2, least_wall_mm=3.5), "wall over the keyseat: judgement"),
    Case("the maker allows the bore, the wall looks thin", place(shaft=keyed(35.0, 10.0)), pilot(16.0, 38.0, hub_diameter_mm=46.0), NEEDS_REVIEW, "mounting", fact("recorded_greatest_bore_allows_it", greatest_bore_mm=38.0), "wall over the keyseat: judgement"),
    Case("smaller finished bore opened, old keyway there", place(shaft=keyed(28.0, 8.0)), part(max_bore_mm=30.0), WITH_WORK, "mounting", (fact("bore_to_shaft", bore_mm=28.0), fact("cut_second_keyseat", key_width_mm=8.0, key_height_mm=7.0)), PRACTICE),
    Case("larger bore, no metal to add", place(), part(bore_mm=28.0), UNFIT, "mounting", (fact("bore_too_large", excess_mm=3.0), fact("metal_cannot_be_added")), PRACTICE),
    Case("neither greatest bore nor hub recorded", place(shaft=keyed(28.0, 8.0)), part(hub_diameter_mm=None), NEEDS_REVIEW, "mounting", fact("greatest_bore_not_recorded", bore_mm=25.0, shaft_mm=28.0), PRACTICE),
    Case("key of the shaft not recorded, hub smaller than the shaft", place(shaft=keyed(50.0, None)), pilot(16.0, hub_diameter_mm=45.0), UNFIT, "mounting", fact("wall_over_keyseat_too_thin", shaft_mm=50.0, hub_mm=45.0, wall_mm=-2.5), "wall over the keyseat: judgement"),
    Case("key of the shaft not recorded, room enough", place(shaft=keyed(25.0, None)), pilot(16.0, 30.0), NEEDS_REVIEW, "key", fact("shaft_key_for_boring_not_recorded", shaft_mm=25.0), PRACTICE),
    Case("the shaft not recorded", place(shaft=None), part(), NEEDS_REVIEW, "mounting", fact("shaft_not_recorded", bore_type="finished", bore_mm=25.0), PRACTICE),
    Case("equal hex", place(shaft=hex_shaft(30.0)), hexed(30.0), DROP_IN, "mounting", fact("hex_fits", offered_mm=30.0), PRACTICE),
    Case("hex one size up", place(shaft=hex_shaft(30.0)), hexed(32.0), UNFIT, "mounting", fact("hex_size_differs", offered_mm=32.0, shaft_mm=30.0), PRACTICE),
    Case("hex on a keyed shaft", place(), hexed(25.0), UNFIT, "mounting", fact("bore_does_not_suit_shaft", bore_type="hex", shaft_kind="keyed"), PRACTICE),
    Case("round bore on a hex shaft", place(shaft=hex_shaft(25.0)), part(), UNFIT, "mounting", fact("bore_does_not_suit_shaft", bore_type="finished", shaft_kind="hex"), PRACTICE),
    Case("round bore on a spline", place(shaft=SPLINED), part(), UNFIT, "mounting", fact("spline_needs_same_spline"), PRACTICE),
    Case("pilot bore on a spline", place(shaft=SPLINED), pilot(), UNFIT, "mounting", fact("spline_needs_same_spline"), PRACTICE),
    Case("bearing bore on a driver", place(), idler(), UNFIT, "mounting", fact("bearing_carries_no_torque"), "catalogue type with ball bearing is for idling"),
    Case("bearing bore on a pin of its size", idler_place(), idler(), DROP_IN, "mounting", fact("bearing_fits_pin", offered_mm=25.0, shaft_mm=25.0), PRACTICE),
    Case("bearing bore on a thinner pin", idler_place(shaft=pin(20.0)), idler(), UNFIT, "mounting", fact("bearing_size_differs", offered_mm=25.0, shaft_mm=20.0), PRACTICE),
    Case("keyed sprocket for a pin, hub with room", idler_place(), part(hub_diameter_mm=60.0), WITH_WORK, "mounting", fact("bearing_to_press_in", hub_mm=60.0, pin_mm=25.0), PRACTICE),
    Case("keyed sprocket for a pin, hub hardly larger", idler_place(), part(hub_diameter_mm=30.0), NEEDS_REVIEW, "mounting", fact("little_room_for_bearing", hub_mm=30.0, pin_mm=25.0), PRACTICE),
    Case("keyed sprocket for a pin, hub not measured", idler_place(), part(hub_diameter_mm=None), NEEDS_REVIEW, "mounting", fact("room_for_bearing_not_recorded", hub_mm=None, pin_mm=25.0), PRACTICE),
    Case("hex bore for a pin", idler_place(), hexed(25.0), UNFIT, "mounting", fact("bore_does_not_suit_shaft", bore_type="hex", shaft_kind="pin"), PRACTICE),
    Case("bearing bore of an idler on a plain shaft", idler_place(shaft=plain_shaft()), idler(), NEEDS_REVIEW, "mounting", fact("bearing_on_plain_shaft"), PRACTICE),
    Case("keyed bore on a plain shaft", place(shaft=plain_shaft()), part(), NEEDS_REVIEW, "mounting", fact("no_key_on_shaft", keyway_mm=8.0), PRACTICE),
    Case("set-screw bore on a plain shaft", place(shaft=plain_shaft()), part(keyway_width_mm=None, keyway_depth_mm=None, key_standard=None), DROP_IN, "mounting", fact("bore_fits_shaft"), PRACTICE),
    Case("how the bore holds on a plain shaft is not recorded", place(shaft=plain_shaft()), part(keyway_width_mm=None, keyway_depth_mm=None, key_standard=None, set_screws=None), NEEDS_REVIEW, "mounting", fact("hold_without_key_not_recorded"), PRACTICE),
    Case("split bore of the size, split place", place(hub_style=HubStyle.SPLIT), part(bore_type=BoreType.SPLIT, hub_style=HubStyle.SPLIT), DROP_IN, "mounting", fact("bore_fits_shaft"), PRACTICE),
    Case("split bore too small", place(shaft=keyed(28.0, 8.0)), part(bore_type=BoreType.SPLIT, max_bore_mm=30.0), NEEDS_REVIEW, "mounting", fact("split_hub_to_open", bore_mm=25.0), PRACTICE),
    Case("finished bore where a bush sits", place(shaft=keyed(bush_size="1210")), part(), NEEDS_REVIEW, "mounting", fact("bush_on_shaft_now", fitted_bush_size="1210"), "undersize shafts under bushes: installation sheets"),
    Case("pilot bore where a bush sits", place(shaft=keyed(bush_size="1210")), pilot(12.0, 28.0), NEEDS_REVIEW, "mounting", fact("bush_on_shaft_now", fitted_bush_size="1210"), "undersize shafts under bushes: installation sheets"),
    Case("plate with a keyed bore, hub not recorded", place(hub_style=None), part(hub_style=HubStyle.A), NEEDS_REVIEW, "mounting", fact("plate_too_thin_for_key"), "key bearing area"),
]

KEYS = [
    Case("keyway narrower than the key", place(), part(keyway_width_mm=6.0, keyway_depth_mm=2.8), WITH_WORK, "key", fact("keyway_too_narrow", keyway_mm=6.0, key_width_mm=8.0, key_height_mm=7.0), ISO_773),
    Case("quarter inch keyway for a 6 mm key", place(shaft=keyed(22.0, 6.0)), part(bore_mm=22.0, keyway_width_mm=6.35, keyway_depth_mm=None, key_standard=None), NEEDS_REVIEW, "key", fact("keyway_too_wide", keyway_mm=6.35, key_width_mm=6.0, play_mm=0.35), "ISO 773 against ASME B17.1"),
    Case("five sixteenths keyway for an 8 mm key", place(), part(keyway_width_mm=7.9375, keyway_depth_mm=None, key_standard=None), WITH_WORK, "key", fact("keyway_too_narrow", keyway_mm=7.9375, key_width_mm=8.0), "ISO 773 against ASME B17.1"),
    Case("BS 46 keyway on a 7/8 in shaft keyed to ASME", place(shaft=keyed(22.225, 4.7625)), part(bore_mm=22.225, keyway_width_mm=6.35, keyway_depth_mm=None, key_standard=KeyStandard.BS_46), NEEDS_REVIEW, "key", fact("keyway_too_wide", keyway_mm=6.35, key_width_mm=4.7625, play_mm=1.5875), "BS 46-1:1958 against ASME B17.1"),
    Case("ASME keyway on a 7/8 in shaft keyed to BS 46", place(shaft=keyed(22.225, None, key_standard=KeyStandard.BS_46)), part(bore_mm=22.225, keyway_width_mm=4.7625, keyway_depth_mm=None, key_standard=KeyStandard.ASME_B17_1), WITH_WORK, "key", fact("keyway_too_narrow", keyway_mm=4.7625, key_width_mm=6.35), "BS 46-1:1958 against ASME B17.1"),
    Case("shallow keyway under a full key", place(shaft=keyed(17.0, 5.0)), part(bore_mm=17.0, keyway_width_mm=5.0, keyway_depth_mm=None, key_standard=KeyStandard.ISO_773_LOW), WITH_WORK, "key", fact("keyway_too_shallow", depth_mm=1.2, needed_depth_mm=2.3), "DIN 6885-3 against ISO 773"),
    Case("full keyway over a low key", place(shaft=keyed(17.0, 5.0, key_standard=KeyStandard.ISO_773_LOW)), part(bore_mm=17.0, keyway_width_mm=5.0, keyway_depth_mm=2.3), DROP_IN, "key", fact("keyway_fits_key", key_width_mm=5.0, key_height_mm=3.0), "DIN 6885-3 against ISO 773"),
    Case("keyway of a finished bore not recorded", place(), part(keyway_width_mm=None), NEEDS_REVIEW, "key", fact("keyway_not_recorded"), PRACTICE),
    Case("depth of the keyway not recorded, width and bore as usual", place(), part(keyway_depth_mm=None, key_standard=None), DROP_IN, "key", fact("keyway_fits_key", keyway_mm=8.0, key_width_mm=8.0, key_height_mm=7.0), ISO_773),
    Case("a key taller than its bore and width tell", place(shaft=keyed(keyway_depth_mm=4.3)), part(keyway_depth_mm=None, key_standard=None), NEEDS_REVIEW, "key", fact("keyway_may_be_too_shallow", needed_depth_mm=4.3, usual_depth_mm=3.3), ISO_773),
]

BUSHES = [
    Case("same bush as on the shaft", place(shaft=keyed(bush_size="1610")), bushed("1610"), DROP_IN, "mounting", fact("bush_stays", bush_size="1610"), "bush installation sheets"),
    Case("bush size written in small letters", place(shaft=keyed(bush_size="sds")), qd("SDS"), DROP_IN, "mounting", fact("bush_stays", bush_size="SDS"), "designation rule"),
    Case("a bushed hub for a bored one, stock of bushes not checked", place(), bushed("1610"), WITH_WORK, "mounting", (fact("bush_takes_shaft", bush_size="1610", bore_mm=25.0), fact("bush_stock_not_checked")), "bore ranges of the bush lists"),
    Case("a bushed hub, and the bush is on the shelf", place(), bushed("1610"), WITH_WORK, "mounting", (fact("bush_takes_shaft", bush_size="1610", bore_mm=25.0), fact("bush_on_shelf")), "bore ranges of the bush lists", shelf(BushAtHand(size="1610", bore_mm=25.0, keyway_width_mm=8.0))),
    Case("a bushed hub, and only other bores on the shelf", place(), bushed("1610"), UNFIT, "mounting", (fact("no_bush_on_shelf", bush_size="1610", bore_mm=25.0, free_bores_mm=(24.0,)), fact("bush_has_to_be_bought")), "two stock items", shelf(BushAtHand(size="1610", bore_mm=24.0))),
    Case("the bush on the shelf has an inch keyway", place(shaft=keyed(22.225, 4.7625)), bushed("1610"), UNFIT, "key", fact("shelf_bush_keyway_differs", keyway_mm=6.35, key_mm=4.7625), "BS 46-1:1958", shelf(BushAtHand(size="1610", bore_mm=22.225, keyway_width_mm=6.35))),
    Case("the shaft is too thick for the bush", place(shaft=keyed(35.0, 10.0)), bushed("1210"), UNFIT, "mounting", fact("shaft_too_large_for_bush", shaft_mm=35.0, bush_size="1210", most_bore_mm=32.0), "bore ranges of the bush lists"),
    Case("the largest bore of a bush needs a lower key", place(shaft=keyed(28.0, 8.0)), bushed("1108"), NEEDS_REVIEW, "key", fact("bush_keyway_shallow", bush_size="1108", bore_mm=28.0), "bush lists"),
    Case("inch shaft with an ASME key in a European bush", place(shaft=keyed(22.225, 4.7625)), bushed("1610"), NEEDS_REVIEW, "key", fact("inch_bush_keyway_differs", key_mm=4.7625, keyway_mm=6.35, key_standard="BS 46"), "BS 46-1:1958 against ASME B17.1"),
    Case("inch shaft whose key is equal in both systems", place(shaft=keyed(25.4, 6.35)), bushed("1610"), WITH_WORK, "mounting", fact("bush_takes_shaft", bush_size="1610", bore_mm=25.4), "BS 46-1:1958 and ASME B17.1"),
    Case("metric shaft with an odd key under a bush", place(shaft=keyed(25.0, 6.0)), bushed("1610"), NEEDS_REVIEW, "key", fact("metric_bush_keyway_differs", key_mm=6.0, keyway_mm=8.0, key_standard="ISO 773"), ISO_773),
    Case("bore that stands in a remembered list only", place(shaft=keyed(12.7, 3.175)), bushed("2012"), NEEDS_REVIEW, "mounting", fact("bush_bore_in_no_confirmed_list", bush_size="2012", bore_mm=12.7), "bush lists, 1/2 in bore of 2012 unseen"),
    Case("QD hub, bores never seen", place(), qd("SDS"), NEEDS_REVIEW, "mounting", fact("bush_bores_not_confirmed", bush_size="SDS", bore_mm=25.0), "QD bores unseen"),
    Case("QD hub where a taper bush sits", place(shaft=keyed(bush_size="1610")), qd("SDS"), NEEDS_REVIEW, "mounting", fact("bush_bores_not_confirmed", bush_size="SDS", bore_mm=25.0), "QD bores unseen"),
    Case("longer bush on the shaft, hub for the short one, none to change", place(shaft=keyed(bush_size="1615")), bushed("1610"), NEEDS_REVIEW, "mounting", fact("longer_bush_in_hub", fitted_bush_size="1615", bush_size="1610", large_end_mm=57.2, difference_mm=12.7), "bush dimension sheets", shelf()),
    Case("bush of another cone on the shaft, none to change", place(shaft=keyed(bush_size="1210")), bushed("1610"), UNFIT, "mounting", fact("no_bush_on_shelf", bush_size="1610", bore_mm=25.0, free_bores_mm=()), "bush dimension sheets", shelf()),
    Case("bush of another cone on the shaft, changed with the hub", place(shaft=keyed(bush_size="1210")), bushed("1610"), WITH_WORK, "mounting", fact("swap_bush", fitted_bush_size="1210", bush_size="1610", bore_mm=25.0), "bore ranges of the bush lists"),
    Case("bush size of the candidate not recorded", place(), bushed(None), NEEDS_REVIEW, "mounting", fact("bush_size_not_recorded"), PRACTICE),
    Case("a bush that is in no table", place(), bushed("9999"), NEEDS_REVIEW, "mounting", fact("bush_not_in_tables", bush_size="9999"), PRACTICE),
]

HUBS_AND_ROOM = [
    Case("type C for type B", place(), part(hub_style=HubStyle.C), WITH_WORK, "hub", fact("hub_c_for_b"), "rule H1, common practice"),
    Case("type B for type C", place(hub_style=HubStyle.C), part(), NEEDS_REVIEW, "hub", fact("hub_b_for_c"), "rule H5, common practice"),
    Case("split hub for a plate", place(hub_style=HubStyle.A), part(hub_style=HubStyle.SPLIT, bore_type=BoreType.SPLIT), UNFIT, "hub", fact("split_hub_for_plate"), PRACTICE),
    Case("type B for a rim to weld on", place(hub_style=HubStyle.WELD_ON), part(), NEEDS_REVIEW, "hub", fact("hub_for_weld_on_rim"), PRACTICE),
    Case("D for D, which names two things", place(hub_style=HubStyle.D), part(hub_style=HubStyle.D), NEEDS_REVIEW, "hub", fact("hub_style_d_ambiguous"), "trade pages use D for bolted and for split hubs"),
    Case("flanged for flanged", place(hub_style=HubStyle.FLANGED), part(hub_style=HubStyle.FLANGED), NEEDS_REVIEW, "hub", fact("flange_not_recorded"), "rule H17, common practice"),
    Case("type B for flanged", place(hub_style=HubStyle.FLANGED), part(), UNFIT, "hub", fact("flanged_for_other_style"), "rule H17, common practice"),
    Case("hub 5 mm too long, faced", place(envelope=room(length_through_bore_mm=23.0)), part(), WITH_WORK, "hub", fact("hub_to_face", length_mm=28.0, room_mm=23.0, excess_mm=5.0), "hubs stay soft"),
    Case("bushed hub too long", place(shaft=keyed(bush_size="1210"), envelope=room(length_through_bore_mm=23.0)), bushed("1210"), UNFIT, "hub", fact("bushed_hub_too_long", length_mm=28.0, room_mm=23.0, excess_mm=5.0), "the cone needs its length"),
    Case("hub too long, its style not recorded", place(hub_style=None, envelope=room(length_through_bore_mm=23.0)), part(hub_style=None), NEEDS_REVIEW, "hub", fact("hub_too_long_style_not_recorded", length_mm=28.0, room_mm=23.0), PRACTICE),
    Case("length through bore not recorded", place(envelope=room(length_through_bore_mm=30.0)), part(length_through_bore_mm=None), NEEDS_REVIEW, "hub", fact("hub_length_not_recorded", room_mm=30.0), PRACTICE),
    Case("rim fouls the guard", place(envelope=room(outside_diameter_mm=74.0)), part(outside_diameter_mm=76.0), UNFIT, "envelope", fact("diameter_fouls_guard", diameter="outside_diameter", diameter_mm=76.0, room_mm=74.0, excess_mm=2.0), "room as measured"),
    Case("rim larger than the old part, guard never measured", place(envelope=copied_room(outside_diameter_mm=74.0)), part(outside_diameter_mm=76.0), NEEDS_REVIEW, "envelope", fact("diameter_exceeds_old_part", diameter="outside_diameter", diameter_mm=76.0, excess_mm=2.0), PRACTICE),
    Case("outside diameter not recorded, the standard's range straddles the old part", place(envelope=copied_room(outside_diameter_mm=74.5)), part(), NEEDS_REVIEW, "envelope", fact("outside_diameter_may_foul", teeth=17, smallest_mm=72.11, largest_mm=76.48, room_mm=74.5), "ISO 606 tip diameters"),
    Case("outside diameter not recorded, the standard's largest has room", place(envelope=room(outside_diameter_mm=90.0)), part(), DROP_IN, "envelope", fact("diameter_fits", diameter="chain_on_wheel", diameter_mm=80.93, room_mm=90.0), "ISO 606, 69.12 + 11.81 mm"),
    Case("the tips clear the guard, the chain on the wheel does not", place(teeth=48, envelope=room(outside_diameter_mm=203.0)), part(teeth=48, outside_diameter_mm=199.0), UNFIT, "envelope", fact("diameter_fouls_guard", diameter="chain_on_wheel", diameter_mm=205.99, room_mm=203.0, excess_mm=2.99), "ISO 606, 194.18 + 11.81 mm"),
    Case("the chain on the wheel passes narrowly", place(teeth=48, envelope=room(outside_diameter_mm=209.0)), part(teeth=48, outside_diameter_mm=199.0), DROP_IN, "envelope", fact("little_room_under_guard", left_mm=3.01), "ISO 606, 194.18 + 11.81 mm"),
    Case("a chain of unknown plates that may foul the guard", place(chain=chain("428"), teeth=48, envelope=room(outside_diameter_mm=205.0)), part(teeth=48, outside_diameter_mm=199.0), NEEDS_REVIEW, "envelope", fact("plate_height_not_recorded", chain="428", most_mm=206.26, room_mm=205.0), "plates of trade chains unseen"),
    Case("hub turned down", place(envelope=room(hub_diameter_mm=40.0)), part(), WITH_WORK, "envelope", fact("hub_to_turn_down", hub_mm=45.0, room_mm=40.0, wall_mm=4.2), "hubs stay soft"),
    Case("hub cannot be turned down so far", place(envelope=room(hub_diameter_mm=30.0)), part(), UNFIT, "envelope", fact("hub_without_wall_if_turned", hub_mm=45.0, room_mm=30.0, least_wall_mm=3.3), "wall over the keyseat: judgement"),
    Case("hub turned down would keep too thin a wall", place(envelope=room(hub_diameter_mm=36.0)), part(), UNFIT, "envelope", fact("hub_wall_too_thin_to_turn", hub_mm=45.0, room_mm=36.0, wall_mm=2.2, least_wall_mm=3.3), "wall over the keyseat: judgement"),
    Case("hub cannot be turned down, but the room was copied", place(envelope=copied_room(hub_diameter_mm=30.0)), part(), NEEDS_REVIEW, "envelope", fact("hub_without_wall_if_turned", hub_mm=45.0, room_mm=30.0, least_wall_mm=3.3), PRACTICE),
]

MATERIALS = [
    Case("carbon for stainless in the wash-down", place(material=Material.STAINLESS_STEEL, environment=WET), part(), UNFIT, "material", fact("material_rusts", material="carbon_steel", required_material="stainless_steel", environment=("washdown",)), "rule M3, trade article"),
    Case("carbon for stainless in the dry", place(material=Material.STAINLESS_STEEL), part(), NEEDS_REVIEW, "material", fact("material_differs", material="carbon_steel", required_material="stainless_steel"), "rule M3, trade article"),
    Case("stainless for hardened carbon", place(hardened_teeth=True), part(material=Material.STAINLESS_STEEL), NEEDS_REVIEW, "tooth_hardness", fact("teeth_cannot_be_hardened", material="stainless_steel"), "rule M4, trade article"),
    Case("304 for 316 beside salt water", place(material=Material.STAINLESS_STEEL, material_grade="316", environment=frozenset({Environment.CHLORIDE})), part(material=Material.STAINLESS_STEEL, material_grade="1.4301"), UNFIT, "material", fact("grade_304_for_316_in_chlorides"), "rule M6, trade article; EN 10088 numbers"),
    Case("316L by its number for 316", place(material=Material.STAINLESS_STEEL, material_grade="316", environment=frozenset({Environment.CHLORIDE})), part(material=Material.STAINLESS_STEEL, material_grade="1.4404"), DROP_IN, "material", fact("material_equal", material="stainless_steel"), "EN 10088 numbers"),
    Case("430 for 304, not compared anywhere", place(material=Material.STAINLESS_STEEL, material_grade="304"), part(material=Material.STAINLESS_STEEL, material_grade="430"), NEEDS_REVIEW, "material", fact("stainless_grade_differs", grade="430", required_grade="304"), PRACTICE),
    Case("plastic for steel on a driver", place(), part(material=Material.PLASTIC), UNFIT, "material", fact("plastic_for_metal_on_drive"), "rule M7"),
    Case("plastic for steel on an idler", idler_place(), idler(material=Material.PLASTIC), NEEDS_REVIEW, "material", fact("plastic_for_metal_on_idler"), "rule M7"),
    Case("plastic in a hot place", idler_place(environment=frozenset({Environment.HOT})), idler(material=Material.PLASTIC), NEEDS_REVIEW, "material", (fact("plastic_softens_in_heat"), fact("rule_from_memory")), "rule M10, from memory for the figure"),
    Case("cast iron for a small driver", place(), part(material=Material.CAST_IRON), UNFIT, "material", fact("cast_iron_on_small_or_driver", least_teeth=25), "rule M2"),
    Case("cast iron for a large driven sprocket", place(role=PositionRole.DRIVEN, teeth=60), part(teeth=60, material=Material.CAST_IRON), NEEDS_REVIEW, "material", fact("cast_iron_for_steel"), "rule M2"),
    Case("cast iron under shock", place(role=PositionRole.DRIVEN, teeth=60, is_shock_loaded=True), part(teeth=60, material=Material.CAST_IRON), UNFIT, "material", fact("cast_iron_under_shock"), "rule M2"),
    Case("cast iron under shock, no material on record", place(role=PositionRole.DRIVEN, teeth=60, material=None, is_shock_loaded=True), part(teeth=60, material=Material.CAST_IRON), NEEDS_REVIEW, "material", fact("position_material_not_recorded_shock"), "rule M2"),
    Case("steel for cast iron", place(material=Material.CAST_IRON), part(), DROP_IN, "material", fact("material_stronger", material="carbon_steel", required_material="cast_iron"), "rule M1"),
    Case("soft teeth where hard ones are required", place(hardened_teeth=True), part(), NEEDS_REVIEW, "tooth_hardness", fact("teeth_not_hardened"), "rule T2, trade pages"),
    Case("hard teeth where none are required", place(), part(hardened_teeth=True), DROP_IN, "tooth_hardness", fact("hardening_beyond_requirement"), "rule T1"),
    Case("soft teeth in grit, nothing on record", place(hardened_teeth=None, environment=frozenset({Environment.ABRASIVE})), part(), NEEDS_REVIEW, "tooth_hardness", fact("abrasive_teeth_not_hardened"), "rule T4, from memory"),
    Case("unknown teeth in grit, nothing on record", place(hardened_teeth=None, environment=frozenset({Environment.ABRASIVE})), part(hardened_teeth=None), NEEDS_REVIEW, "tooth_hardness", fact("abrasive_hardness_not_recorded"), "rule T4, from memory"),
    Case("another material in an explosive zone", place(material=Material.STAINLESS_STEEL, environment=frozenset({Environment.EXPLOSIVE})), part(), UNFIT, "material", fact("explosive_zone_other_material", material="carbon_steel", required_material="stainless_steel"), "rule M9"),
    Case("unknown material in an explosive zone", place(environment=frozenset({Environment.EXPLOSIVE})), part(material=None), NEEDS_REVIEW, "material", fact("candidate_material_not_recorded"), "rule M9"),
    Case("not declared for food", place(food_contact_required=True), part(), NEEDS_REVIEW, "duty", fact("declaration_missing", declaration="food_contact"), "rule M9"),
    Case("declared unfit for food", place(food_contact_required=True), part(food_contact=False), UNFIT, "duty", fact("declared_not", declaration="food_contact"), "rule M9"),
    Case("sparking part where none may spark", place(non_sparking_required=True), part(non_sparking=False), UNFIT, "duty", fact("declared_not", declaration="non_sparking"), "rule M9"),
    Case("material of the candidate not recorded", place(), part(material=None), NEEDS_REVIEW, "material", fact("candidate_material_not_recorded"), PRACTICE),
    Case("nothing but the place's interface on record", place(hub_style=None, material=None, hardened_teeth=None, environment=frozenset()), part(), DROP_IN, "mounting", fact("bore_fits_shaft"), "what is left out is not checked"),
]
# fmt: on

CASES = [*CHAINS, *TEETH, *MOUNTINGS, *KEYS, *BUSHES, *HUBS_AND_ROOM, *MATERIALS]
