"""What is meant by the figures of stock, orders and units."""

from django.utils.translation import gettext_lazy as _

from api.wording.term import Term

STOCK_TERMS = [
    Term(
        "on-hand",
        _("On hand"),
        _("What lies on the shelves by the books."),
        basis=_("In pieces, of chain in links; as it is now, in any condition."),
        act=_("Not there? Report it at the shelf: the books are corrected."),
    ),
    Term(
        "reserved",
        _("Reserved"),
        _("Held for a work order; still on hand."),
        basis=_(
            "In the unit of the item. It ends when the part is issued, released, or its time has run out."
        ),
    ),
    Term(
        "available",
        _("Available"),
        _("On hand, less reserved. What is on hold is never available."),
        basis=_("In the unit of the item, as it is now: new and used serviceable pieces."),
    ),
    Term(
        "on-hold",
        _("On hold"),
        _("There, but not to be used until somebody has settled why."),
        act=_("Open the delivery or the item, and release it or send it back."),
    ),
    Term(
        "on-order",
        _("On order"),
        _("Ordered and not received yet."),
        basis=_("From the open orders, in pieces or links; the date is that which the supplier promised."),
        act=_("A date that has passed: ask the supplier, then correct the order."),
    ),
    Term(
        "there-now",
        _("There now"),
        _("On hand, reserved and on order in this storeroom, now."),
        basis=_(
            "In the unit of the item, from the books. It is compared with the levels to see what is "
            "to be ordered."
        ),
    ),
    Term(
        "change",
        _("Change and balance"),
        _("By how much a movement changed the books, and what they said after it."),
        basis=_(
            "In the unit of the item, for one storeroom and condition. Lines are never changed: an "
            "error is corrected by another line."
        ),
    ),
    Term(
        "open-quantity",
        _("Open quantity"),
        _("What is still held for the work order: reserved, less what was issued on it."),
        act=_("Release what is not needed any more: others can take it then."),
    ),
    Term("outstanding", _("Outstanding"), _("Ordered, less what has been received.")),
    Term(
        "count-variance",
        _("Variance"),
        _("What was counted, less what the books said. Below zero something is missing."),
        basis=_("In the unit of the item, at the time of the count. The books are set to what was counted."),
        act=_("A large one: look into the bins beside it, and at the last movements."),
    ),
    Term(
        "last-counted",
        _("Last counted"),
        _("When somebody last counted this shelf. Empty: never on record."),
        act=_("What is vital and was not counted for long: ask for a count."),
    ),
    Term(
        "price",
        _("Price"),
        _("What a piece costs, in the currency of the item."),
        basis=_(
            "The price recorded for the item, of today. All values are counted at it, those of the past too."
        ),
        act=_("Without a price an item is missing in sums of money: enter it."),
    ),
    Term(
        "holding-reason",
        _("Stocked for"),
        _("Why it is kept: for usage, as insurance, for a project, or as surplus."),
        basis=_("Set by a person. Insurance is not proposed for writing off, surplus is not ordered again."),
    ),
    Term(
        "lifecycle",
        _("Life"),
        _(
            "Active: may be ordered. Run down: used up, not ordered again. Blocked: issued only with "
            "a reason."
        ),
    ),
    Term(
        "running-hours",
        _("Running hours"),
        _("How long a unit ran between fitting and removal, or until now."),
        basis=_(
            "In hours, from the meter of the drive; without one from its hours a year, which is an estimate."
        ),
    ),
    Term(
        "elongation",
        _("Elongation"),
        _("How much longer the chain is than a new one, in percent, as measured on that day."),
        act=_("Near its limit: order a chain, and look at the sprockets."),
    ),
    Term(
        "downtime-cost",
        _("Downtime cost an hour"),
        _("What an hour costs in which the drive stands."),
        basis=_(
            "In the currency of the plant, entered for each drive. It weighs every figure of risk and budget."
        ),
        act=_("Without it a drive is missing in the budget: enter it in the settings."),
    ),
    Term(
        "pick-minutes",
        _("Picking and call-out"),
        _(
            "Minutes from asking at the counter to the part in the hand, and minutes until somebody "
            "is there out of hours."
        ),
        basis=_(
            "As recorded for the storeroom. Both are part of the time in which a drive runs again. "
            "Without a call-out a part waits until the storeroom opens."
        ),
    ),
    Term(
        "message-outcome",
        _("Outcome of a message"),
        _("What became of a message of the work-order system: taken over, waiting, or refused."),
        basis=_("The reason stands beside it. Waiting messages are tried again by themselves."),
        act=_("Refused: correct it in the other system and send it again."),
    ),
]
