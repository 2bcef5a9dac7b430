"""What is meant by the grades, the checks and the dimensions of a part."""

from django.utils.translation import gettext_lazy as _

from api.wording.labels import ASPECTS, GRADES
from api.wording.term import Term
from inventory.interchange.vocabulary import Aspect, Grade

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
GRADE_TERMS = [
    Term(
        "grade",
        _("Grade"),
        _("How well a part serves a position, in four grades."),
        basis=_("The worst of all checks decides. It holds for this position only."),
        act=_("Take the best grade that can run soonest."),
    ),
    *(Term(f"grade-{grade.value}", *GRADES[grade], act=GRADE_ACTS[grade]) for grade in Grade),
]
CHECK_TERMS = [
    *(Term(f"check-{aspect.value}", ASPECTS[aspect], ASPECT_MEANINGS[aspect]) for aspect in Aspect),
    Term("required", _("Required, offered"), _("What the place asks for, and what the part has.")),
    Term(
        "limit",
        _("Limit"),
        _("The last value that still passes. Its source is numbered beside the finding."),
        basis=_("In the unit of the check. From a standard, a maker's table or a rule of the plant."),
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
            "A figure that no source shows. What turns on it is for a person to decide, never for the "
            "program."
        ),
    ),
    Term(
        "runs-in",
        _("Runs in about"),
        _("Fetching, opening hours, machine shop, other parts and the work at the drive, from now on."),
        basis=_(
            "Counted from the moment chosen on the page, with opening hours, call-out and road. Times "
            "that are estimates are marked."
        ),
    ),
    Term(
        "others-need",
        _("Other positions that could need it"),
        _("The chance that another position needs this part before the next delivery comes."),
        basis=_(
            "In percent, over one lead time, from the demand of each position; as of the day named. Without a lead "
            "time or a demand it is not known."
        ),
        act=_("Where none is left for an important drive, take another part or order one at once."),
    ),
    Term(
        "cells-missing",
        _("Cells that hold up most positions"),
        _("A cell of a file that is not filled: without it these positions cannot be judged."),
        basis=_(
            "Counted as it is now, in positions. Alone: the only cell that is missing there, so filling it is enough."
        ),
        act=_("Take the file, fill the cells and import it again."),
    ),
    Term(
        "finding",
        _("Finding"),
        _(
            "One comparison of the part with the position: it passes, needs work, needs review or "
            "does not fit."
        ),
        basis=_(
            "The worst finding is the grade of the part. What is not recorded is not checked, and "
            "stands as unchecked."
        ),
    ),
    Term(
        "work-minutes",
        _("Minutes of work"),
        _("How long the work on the part takes: boring, keyseating, changing the bush."),
        basis=_("In minutes, from the shop times of the plant. An estimate says so."),
        act=_("Wrong times are corrected in the settings of stock planning."),
    ),
    Term(
        "fitting-minutes",
        _("Time to change one sprocket"),
        _("How long it takes to change one sprocket of this drive."),
        basis=_(
            "In minutes, as recorded for the drive. Without a record it is estimated, and the page says so."
        ),
    ),
    Term(
        "requirement-basis",
        _("Basis of the requirement"),
        _("Where the requirement of the position comes from."),
        basis=_(
            "Stated by an engineer or a drawing counts more than copied from the part that is fitted: "
            "that part may itself be a substitute."
        ),
        act=_("Measure the shaft at the next stop, and enter what was measured."),
    ),
    Term(
        "never-relaxed",
        _("Never relaxed"),
        _("What no substitute may lack, whatever it costs: food contact, non-sparking."),
    ),
    Term(
        "ratio-tolerance",
        _("Ratio tolerance"),
        _("How far the ratio may differ when both sprockets are changed together."),
        basis=_(
            "In percent of today's ratio, as recorded for the drive. Beyond it an engineer must approve."
        ),
    ),
    Term(
        "pair",
        _("Changing both sprockets together"),
        _("Two other sprockets that together keep ratio and chain, where none alone fits."),
        basis=_(
            "Ratio, speed, chain length and take-up are calculated for the pair; the worse finding of "
            "both decides."
        ),
    ),
    Term(
        "likelihood",
        _("Probability"),
        _("How likely it is that the sprocket in the hand is for this chain."),
        basis=_(
            "In percent, all candidates together 100. From your measurements against the standard "
            "sizes, with what a calliper and wear change."
        ),
        act=_("Take the measurement that is asked next: it separates the candidates best."),
    ),
    Term(
        "wear-limit",
        _("Chain wear against its limit"),
        _("How much longer the chain is than a new one, in percent, and how much is allowed."),
        basis=_(
            "From the inspections on record. The limit is that of the number of teeth and of the "
            "adjustment of the drive; the line goes on at the speed of wear so far."
        ),
        act=_(
            "Measure regularly: with a wear strip, over as many links as it has. Order the chain "
            "before the limit."
        ),
    ),
    Term(
        "next-need",
        _("Next likely need"),
        _("When the chain reaches its wear limit, and how likely a sprocket is needed."),
        basis=_(
            "The chance of 30 days and of a year, from now on, out of the lives of the units here and "
            "of similar ones. Calculated in the last stocking run."
        ),
    ),
    Term(
        "service-factor",
        _("Load"),
        _("Power, speed and service factor that the chain has to carry."),
        basis=_(
            "Power in kW, speed in revolutions a minute. The power is multiplied by the service "
            "factor of the machine before it is compared with the rating of the chain."
        ),
    ),
    Term(
        "drive-data",
        _("Calculated data of the drive"),
        _("Ratio, speeds, chain length, forces and wrap of the drive as it is recorded."),
        basis=_(
            "Calculated from teeth, pitch, centre distance, power and speed. Each has its unit beside "
            "it; what misses a value is left out."
        ),
        act=_("Where a figure is wrong, correct the record of the drive."),
    ),
    Term(
        "recorded-dimensions",
        _("Recorded dimensions"),
        _(
            "The dimensions of the part as they are recorded, in millimetres and as an inch size "
            "where it is one."
        ),
        basis=_("Entered or read from a file. They say what the part should be, not what lies in the bin."),
    ),
    Term(
        "dimensions-to-measure",
        _("Dimensions to measure"),
        _("What a calliper shows on a new part of this kind."),
        basis=_(
            "In millimetres, calculated from the tooth form of the standard. The drawing shows where "
            "to measure."
        ),
        act=_("Measure before you fit. A difference of some tenths can be another chain."),
    ),
    Term(
        "delivery-verdict",
        _("Verdict on a delivery"),
        _("Whether what came is what was ordered: as ordered, something else, or undecided."),
        basis=_(
            "The measurements taken are compared with the part ordered and with the parts that look like it."
        ),
        act=_("Something else and undecided go on hold. Send back, or release with a reason."),
    ),
]
