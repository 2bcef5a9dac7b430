"""What is meant by the words and figures of the pages, each said once."""

from typing import NamedTuple

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from api.wording.labels import ASPECTS, GRADES
from inventory.interchange.vocabulary import Aspect, Grade


class Term(NamedTuple):
    """`name` is its place on the page of help."""

    name: str
    words: str | Promise
    meaning: str | Promise
    act: str | Promise = ""


GRADE_ACTS = {
    Grade.DROP_IN: _("Nothing to machine. Check number and bore in the hand, then fit it."),
    Grade.WITH_WORK: _("Order the work first: the steps, their times and who does them stand beside it."),
    Grade.NEEDS_REVIEW: _(
        "It changes speed, load, life or something that is not recorded. The reason says what to ask; the engineer's "
        "name and your reason are kept with the issue."
    ),
    Grade.UNFIT: _("The reason is physical, not a rule of paper. Do not make it fit."),
}
ASPECT_MEANINGS = {
    Aspect.CHAIN: _(
        "Pitch, roller and inner width of the chain against the teeth. A tooth of another chain looks the same on a shelf."
    ),
    Aspect.STRANDS: _("Rows of teeth against strands of chain, and the distance between the strands."),
    Aspect.TEETH: _(
        "Their number against that of the position: it sets ratio, speed and length of the chain."
    ),
    Aspect.MOUNTING: _("Bore against shaft, or bush against both; what can be bored out, and how far."),
    Aspect.KEY: _(
        "Width and depth of the keyway against the key of the shaft, and what holds the hub sideways."
    ),
    Aspect.HUB: _("Style and length of the hub against the room on the shaft; the line of the chain."),
    Aspect.ENVELOPE: _(
        "The wheel with its chain on, the hub and its length against guard, shaft and neighbours."
    ),
    Aspect.MATERIAL: _(
        "Material against water, acid, heat and food. Food contact and non-sparking are never relaxed."
    ),
    Aspect.TOOTH_HARDNESS: _(
        "Hardened teeth where the load, the speed or a small number of teeth asks for them."
    ),
    Aspect.RATING: _(
        "Power that the chain may carry at this speed and number of teeth against that of the drive."
    ),
    Aspect.CHAIN_WEAR: _(
        "A worn chain is longer and rides up on new teeth: how far it may be worn for these."
    ),
    Aspect.RULE: _("What a person has ruled for this part or place: it stands above what is calculated."),
    Aspect.DUTY: _("Speed, ratio, wrap and slack as they would be on this drive with this part."),
}
CHECK_TERMS = [
    Term("required", _("Required, offered"), _("What the place asks for, and what the part has.")),
    Term(
        "limit", _("Limit"), _("The last value that still passes. Its source is numbered beside the finding.")
    ),
    Term(
        "margin",
        _("Margin"),
        _("How much is left up to the limit, in the unit of the check; below zero it is passed."),
    ),
    Term(
        "estimate",
        _("Estimate"),
        _(
            "A figure that no source shows. What turns on it is for a person to decide, never for the program."
        ),
    ),
    Term(
        "runs-in",
        _("Runs in about"),
        _("Fetching, opening hours, machine shop, other parts and the work at the drive, from now on."),
    ),
]
STOCK_TERMS = [
    Term("on-hand", _("On hand"), _("What lies on the shelves by the books.")),
    Term("reserved", _("Reserved"), _("Held for a work order; still on hand.")),
    Term("available", _("Available"), _("On hand, less reserved. What is on hold is never available.")),
    Term("on-hold", _("On hold"), _("There, but not to be used until somebody has settled why.")),
]
FIGURE_TERMS = [
    Term(
        "reorder-point",
        _("Reorder point"),
        _("Also called minimum: order when on hand + on order − reserved has fallen to it."),
    ),
    Term(
        "order-up-to",
        _("Order up to"),
        _("Also called maximum: order as many as bring on hand + on order − reserved back to it."),
    ),
    Term(
        "lead-time", _("Lead time"), _("From order to receipt, as it really was where orders are on record.")
    ),
    Term("runs-out", _("Runs out"), _("How often a year somebody asks and nothing is left.")),
    Term("fill-rate", _("Fill rate"), _("The share of the pieces requested that stock can supply at once.")),
    Term(
        "average-on-hand",
        _("Average on hand"),
        _("What lies there on an ordinary day; its value is the stock value."),
    ),
    Term(
        "holding-cost",
        _("Holding cost"),
        _("What it costs a year to keep that value in stock: capital, space, loss."),
    ),
    Term(
        "target",
        _("Target"),
        _(
            "What stock has to achieve, set by how important the drive is; or least cost of stock and stops together."
        ),
    ),
    Term(
        "risk",
        _("Risk of a stop without a part"),
        _("The chance that the position needs a part before the next delivery and none is left for it."),
    ),
    Term(
        "expected-cost",
        _("Expected cost"),
        _("That chance times the cost of the stop until a part comes."),
    ),
    Term(
        "criticality", _("Criticality"), _("What a stop of the drive means: vital, essential or desirable.")
    ),
    Term(
        "insurance",
        _("Insurance"),
        _("Kept although it is rarely needed, because a stop without it would cost more."),
    ),
    Term(
        "promise",
        _("Promise kept"),
        _(
            "In the back-test: whether the levels would have supplied what was asked for, as they said they would."
        ),
    ),
]
TERMS: list[tuple[str | Promise, list[Term]]] = [
    (
        _("Grades"),
        [Term(f"grade-{grade.value}", *GRADES[grade], GRADE_ACTS[grade]) for grade in Grade],
    ),
    (
        _("Checks"),
        [Term(f"check-{aspect.value}", ASPECTS[aspect], ASPECT_MEANINGS[aspect]) for aspect in Aspect]
        + CHECK_TERMS,
    ),
    (_("Stock"), STOCK_TERMS),
    (_("Planning"), FIGURE_TERMS),
]
