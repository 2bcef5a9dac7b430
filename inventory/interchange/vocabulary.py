"""The vocabulary of the API, shared by cores and records."""

from enum import StrEnum


class PositionRole(StrEnum):
    """What a position does on its drive."""

    DRIVER = "driver"
    DRIVEN = "driven"
    IDLER = "idler"


class RoleKind(StrEnum):
    """What a sprocket is made for."""

    DRIVE = "drive"
    IDLER = "idler"


class HubStyle(StrEnum):
    """Hub style; D is ambiguous in the trade (bolted hub or split), so it never decides alone."""

    A = "A"
    B = "B"
    C = "C"
    D = "D"
    SPLIT = "split"
    WELD_ON = "weld_on"
    FLANGED = "flanged"


class BoreType(StrEnum):
    """What a sprocket offers to a shaft."""

    PLAIN = "plain"
    FINISHED = "finished"
    TAPERED = "tapered"
    QD = "qd"
    HEX = "hex"
    SPLIT = "split"
    BEARING = "bearing"


class ShaftKind(StrEnum):
    """What a position offers to a sprocket."""

    KEYED = "keyed"
    PLAIN = "plain"
    HEX = "hex"
    SPLINE = "spline"
    PIN = "pin"


class Material(StrEnum):
    """Material of the rim."""

    CARBON_STEEL = "carbon_steel"
    ALLOY_STEEL = "alloy_steel"
    CAST_IRON = "cast_iron"
    STAINLESS_STEEL = "stainless_steel"
    SINTERED_STEEL = "sintered_steel"
    PLASTIC = "plastic"


class Environment(StrEnum):
    """What surrounds a drive."""

    WASHDOWN = "washdown"
    FOOD = "food"
    OUTDOOR = "outdoor"
    CORROSIVE = "corrosive"
    CHLORIDE = "chloride"
    ABRASIVE = "abrasive"
    HOT = "hot"
    EXPLOSIVE = "explosive"
    CLEAN_DRY = "clean_dry"


class KeyStandard(StrEnum):
    """Key system; the same bore does not imply the same key."""

    ISO_773 = "ISO 773"
    ISO_773_LOW = "ISO 773 low"
    ASME_B17_1 = "ASME B17.1"
    BS_46 = "BS 46"


class Grade(StrEnum):
    """How well a candidate fits, best first."""

    DROP_IN = "drop_in"
    WITH_WORK = "with_work"
    NEEDS_REVIEW = "needs_review"
    UNFIT = "unfit"


class Outcome(StrEnum):
    """What one check found, best first."""

    OK = "ok"
    WORK = "work"
    REVIEW = "review"
    NO = "no"


class Aspect(StrEnum):
    """What a check is about, in the order a fitter would go."""

    CHAIN = "chain"
    STRANDS = "strands"
    TEETH = "teeth"
    MOUNTING = "mounting"
    KEY = "key"
    HUB = "hub"
    ENVELOPE = "envelope"
    MATERIAL = "material"
    TOOTH_HARDNESS = "tooth_hardness"
    RATING = "rating"
    CHAIN_WEAR = "chain_wear"
    DUTY = "duty"
    RULE = "rule"


class Operation(StrEnum):
    """Work that turns a candidate into a fit."""

    BORE = "bore"
    CUT_KEYSEAT = "cut_keyseat"
    DRILL_SET_SCREWS = "drill_set_screws"
    CHANGE_BUSH = "change_bush"
    FACE_HUB = "face_hub"
    TURN_HUB = "turn_hub"
    FIT_BEARING = "fit_bearing"
    WELD_HUB = "weld_hub"
    FIT_CHAIN = "fit_chain"
    ADJUST_CENTRE = "adjust_centre"
    OTHER = "other"


GRADE_OF_OUTCOME = {
    Outcome.OK: Grade.DROP_IN,
    Outcome.WORK: Grade.WITH_WORK,
    Outcome.REVIEW: Grade.NEEDS_REVIEW,
    Outcome.NO: Grade.UNFIT,
}
GRADE_RANK = {grade: rank for rank, grade in enumerate(Grade)}
OUTCOME_RANK = {outcome: rank for rank, outcome in enumerate(Outcome)}
