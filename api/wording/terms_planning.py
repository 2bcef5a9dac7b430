"""What is meant by the figures of stock planning."""

from django.utils.translation import gettext_lazy as _

from api.wording.term import Term

PLANNING_TERMS = [
    Term(
        "reorder-point",
        _("Reorder point"),
        _("Also called minimum: order when on hand + on order − reserved has fallen to it."),
        basis=_(
            "In the unit of the item, for one storeroom: what the demand of a lead time stays within "
            "often enough for the target."
        ),
    ),
    Term(
        "order-up-to",
        _("Order up to"),
        _("Also called maximum: order as many as bring on hand + on order − reserved back to it."),
        basis=_("In the unit of the item: the reorder point and what is worth ordering at once."),
    ),
    Term(
        "lead-time",
        _("Lead time"),
        _("From order to receipt, as it really was where orders are on record."),
        basis=_("In days. Without orders on record it is that entered for the item."),
        act=_("Wrong? Record orders with the days on which they were placed and received."),
    ),
    Term(
        "runs-out",
        _("Runs out"),
        _("How often a year somebody asks and nothing is left."),
        basis=_("Times a year, from demand, lead time and levels, in the last stocking run."),
    ),
    Term(
        "fill-rate",
        _("Fill rate"),
        _("The share of the pieces requested that stock can supply at once."),
        basis=_("In percent of the pieces requested, over a long time."),
    ),
    Term(
        "average-on-hand",
        _("Average on hand"),
        _("What lies there on an ordinary day; its value is the stock value."),
        basis=_("In the unit of the item, from levels and demand."),
    ),
    Term(
        "holding-cost",
        _("Holding cost"),
        _("What it costs a year to keep that value in stock: capital, space, loss."),
        basis=_("Average value of stock times the holding rate of the settings, in a year."),
    ),
    Term(
        "target",
        _("Target"),
        _(
            "What stock has to achieve, set by how important the drive is; or least cost of stock and "
            "stops together."
        ),
        basis=_("In percent, set for each class of importance in the settings."),
    ),
    Term(
        "risk",
        _("Risk of a stop without a part"),
        _("The chance that the position needs a part before the next delivery and none is left for it."),
        basis=_(
            "In percent, for the days of one lead time, with all that fits and is available; as the "
            "page says when."
        ),
        act=_("Keep a piece, shorten the lead time, or find a substitute."),
    ),
    Term(
        "expected-cost",
        _("Expected cost"),
        _("That chance times the cost of the stop until a part comes."),
        basis=_(
            "Until an emergency delivery, or an ordinary one where none is known; in the currency of "
            "the plant."
        ),
    ),
    Term(
        "money-at-risk",
        _("Money at risk"),
        _("What the stops would cost that the recommended levels avoid: decide the dearest first."),
        basis=_(
            "Shortages a year of today's levels less those of the recommended ones, times the dearest stop "
            "that the part can cause until an emergency delivery; as of the last stocking run."
        ),
    ),
    Term(
        "criticality",
        _("Criticality"),
        _("What a stop of the drive means: vital, essential or desirable."),
        basis=_("Set by a person for each drive. A part has the highest class of the drives that it serves."),
        act=_("Not classified: give the drive a class in the settings."),
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
            "In the back-test: whether the levels would have supplied what was asked for, as they "
            "said they would."
        ),
    ),
    Term(
        "recommended",
        _("Recommended"),
        _("The levels that the last stocking run advises. Nothing is set until a person accepts."),
        basis=_(
            "From requests, lives of units, lead times, price and the target of the importance; "
            "calculated every night."
        ),
        act=_("Read the reasons, then accept, set other levels, or leave it as it is."),
    ),
    Term(
        "levels",
        _("Levels"),
        _("Reorder point and order-up-to level, today and as recommended."),
        basis=_("In the unit of the item, for one storeroom."),
    ),
    Term(
        "stock-value",
        _("Stock value"),
        _("What the stock is worth at today's price."),
        basis=_(
            "Pieces times price, in the currency of the item. In planning the average on hand, in the "
            "figures what lies there now."
        ),
    ),
    Term(
        "ties-up",
        _("Ties up more"),
        _("How much more money lies in stock on average, if the recommendations shown are accepted."),
        basis=_(
            "Average value of stock as recommended less that of today, for those where it rises. "
            "Items without a price are not in it."
        ),
    ),
    Term(
        "frees",
        _("Frees"),
        _("How much less money lies in stock on average, if the recommendations shown are accepted."),
        basis=_(
            "The same for those where it falls. It comes as pieces are used, not on the day of the decision."
        ),
    ),
    Term(
        "demand-history",
        _("Demand history"),
        _("Every request on record, filled or not, with what was issued for it."),
        basis=_(
            "Requests, issues without a request, and units replaced without either, each counted "
            "once; over all numbers of the same part."
        ),
        act=_("Record requests that nobody could fill too: without them too little is kept."),
    ),
    Term("counted", _("Counted"), _("Whether a line counts as demand, and why not.")),
    Term(
        "planned-demand",
        _("Planned and unplanned"),
        _("Planned: for work that was known in time to order. Unplanned: after a failure."),
        basis=_(
            "Times a year, or number of requests in the years shown. Only unplanned demand asks for stock."
        ),
    ),
    Term(
        "demand-per-year",
        _("Demand a year"),
        _("Pieces requested in a year on average."),
        basis=_("Since the record of the storeroom begins."),
    ),
    Term(
        "lead-time-demand",
        _("Demand in one lead time"),
        _("How likely it is that so many pieces are needed before a new order arrives."),
        basis=_("Each bar is a chance in percent, all together 100. The line marks the reorder point."),
    ),
    Term(
        "unit-lives",
        _("How long units lasted"),
        _("The share of units that last longer than so many running hours."),
        basis=_(
            "From the units fitted here. Those that still run or left for another reason count for "
            "the hours that they ran. With few failures the band is wide."
        ),
    ),
    Term(
        "life-result",
        _("Counted as"),
        _("Whether the end of a unit counts as wear, as a sudden failure, or not as a failure."),
        basis=_("From why it was removed and from its mechanism of failure."),
    ),
    Term(
        "substitute-cover",
        _("Substitutes when it runs out"),
        _("Which other items could serve when this one is not there, and how many positions."),
        basis=_(
            "Judged in the last stocking run. Pieces short avoided: fewer pieces missing in one lead "
            "time because they are there."
        ),
    ),
    Term(
        "order-by",
        _("Order by"),
        _("The last day on which an order arrives in time."),
        basis=_("Day needed, less the lead time of the item. Without a lead time or a date it is not known."),
        act=_("Passed: order by express, look for a substitute, or move the job."),
    ),
    Term(
        "missing",
        _("Missing"),
        _("Pieces that the job needs and that are not promised to it."),
        basis=_("Every available piece is promised to one open job, by the day it is needed. As it is now."),
    ),
    Term(
        "to-order",
        _("To order now"),
        _("How many to order so that the stock comes back to its order-up-to level."),
        basis=_(
            "Order up to, less on hand, less on order, plus reserved, where the reorder point is "
            "reached. From the policies that a person has set; as it is now."
        ),
    ),
    Term(
        "purchase-cost",
        _("Expected cost of a purchase"),
        _("Pieces to order times the price recorded."),
        basis=_("In the currency of the item, without freight."),
    ),
    Term(
        "supplier-share",
        _("Share in the long run"),
        _("Which share of a supplier's deliveries may be something else in the long run."),
        basis=_(
            "The range is what so few deliveries leave possible with 95 % confidence, from the checks "
            "between the two days. Undecided ones are not counted."
        ),
        act=_("A high lower end: measure every delivery of this supplier, and talk to him."),
    ),
    Term(
        "risk-unknown",
        _("Risk not known"),
        _("Positions for which no chance can be given; each says what is missing."),
        act=_("Enter what is missing: lead time, part, requirement."),
    ),
    Term(
        "without-part",
        _("Without an available part"),
        _("Positions for which nothing that fits is available in any storeroom now."),
    ),
    Term(
        "downtime-year",
        _("Downtime cost a year"),
        _("What waiting for missing parts costs in a year on average, with this stock."),
        basis=_(
            "How often a part is missing, times hours until an emergency or ordinary delivery, times "
            "the cost of an hour of the drives that stop."
        ),
        act=_("Compare it with what waits for parts cost on record."),
    ),
    Term(
        "waits-on-record",
        _("waits for parts on record, a year"),
        _("What waiting for parts really cost in a year, as far as it was recorded."),
        basis=_(
            "Hours waited on record times the cost of an hour of the drive, divided by the years of record."
        ),
    ),
    Term(
        "value-weighed",
        _("On hand and on order, weighed"),
        _("The value of the stock that the budget weighs: parts with a price and a known downtime cost."),
        basis=_("At today's price. What is left out stands under the method."),
    ),
    Term(
        "best-stock",
        _("Best stock for the same money"),
        _("The downtime cost a year that would be left, if the money in stock today lay in the best pieces."),
        act=_("The difference from today is what better stock can avoid at no more money."),
    ),
    Term(
        "after-spending",
        _("After spending"),
        _("The downtime cost a year that is left, when all purchases of the list are made."),
    ),
    Term(
        "purchase-order",
        _("Buy in this order"),
        _("Which piece avoids most downtime for its money comes first."),
        basis=_(
            "Stock then, money spent and downtime left are those after the line, so the list can be "
            "cut anywhere."
        ),
    ),
    Term(
        "promised",
        _("Promised"),
        _("In the back-test: how many of 100 spans were to pass without a shortage."),
    ),
    Term(
        "achieved",
        _("Achieved"),
        _("How many really would have passed without a shortage, with the stock recommended then."),
        basis=_("At many dates of the past only what was known then is used; the requests that came decide."),
    ),
    Term(
        "likely-range",
        _("Likely range"),
        _("Where the true share lies with 95 % confidence. Few spans make it wide."),
    ),
    Term(
        "left-over",
        _("Left over, pieces"),
        _("Pieces of an item still on the shelf at the end of a span, on average."),
        act=_("Among rules that keep the promise, the one that leaves least over is best."),
    ),
    Term(
        "score",
        _("Mean score (CRPS)"),
        _("How far the predicted numbers of pieces were from what came. Smaller is better."),
        basis=_("In pieces, the continuous ranked probability score, on average over all spans."),
    ),
    Term(
        "ten-shares",
        _("Ten shares (PIT)"),
        _("Whether the predicted chances were right: each of the ten shares should be about 0.10."),
        basis=_("More at the ends: demand varied more than predicted. More in the middle: less."),
    ),
    Term(
        "duplicate-groups",
        _("parts under several numbers"),
        _("Parts that are kept under more than one stock number."),
        basis=_(
            "Compared by the verdict on each in place of the other, never by their words. The search "
            "runs every night."
        ),
        act=_("Merge them, or say that they differ."),
    ),
    Term(
        "cost-apart",
        _("To keep apart"),
        _("What it costs a year to keep the numbers apart instead of as one stock."),
        basis=_("The holding rate times the value of the pieces beyond one common stock."),
    ),
    Term(
        "excess-apart",
        _("in pieces beyond one common stock"),
        _("The value of what is on hand beyond what one common stock would need."),
    ),
    Term(
        "variety-positions",
        _("positions served by an item that is held"),
        _("Positions in use for which at least one item on the shelves fits."),
    ),
    Term(
        "variety-not-needed",
        _("Items not needed"),
        _("Items whose positions are all served by others that are kept, no worse than asked."),
        act=_("Run them down: they are used up and not ordered again."),
    ),
    Term(
        "variety-saving",
        _("Saving a year"),
        _("What holding fewer kinds saves a year."),
        basis=_(
            "The holding rate times the difference in value of the levels. What boring or another "
            "bush costs is not in it."
        ),
    ),
    Term(
        "variety-gap",
        _("the best may cost less by at most"),
        _("How far the choice shown can be from the best one, in percent of its cost."),
    ),
    Term(
        "use-up",
        _("Pieces to use up"),
        _("Pieces on hand of the items to run down, and their value at today's price."),
    ),
    Term(
        "variety-levels",
        _("Level today and after"),
        _("Pieces to keep today, and when the other items are run down."),
        basis=_(
            "In each storeroom what the demand of a lead time stays within, at least one; before and "
            "after in the same way."
        ),
    ),
    Term(
        "verdicts-blocked",
        _("Verdicts that wait for it"),
        _("For how many positions the item needs review only because this was not measured."),
        basis=_(
            "Alone: nothing else is missing. With others: more has to be measured. From the last "
            "stocking run."
        ),
        act=_("Measure it once, and all of these verdicts are made again."),
    ),
    Term(
        "money-blocked",
        _("money blocked"),
        _("The money that the missing measurement holds up; the list begins with the most."),
        basis=_("How it is counted stands above the list."),
    ),
    Term(
        "orphan",
        _("Orphans"),
        _("Items that no position in use of the plants of their storeroom takes, not even after work."),
        basis=_("From the verdicts of the last stocking run; value at today's price."),
        act=_("Offer them to another plant, or run them down."),
    ),
    Term(
        "standing-still",
        _("standing still, to keep"),
        _("Not issued for two years, but nothing else on any shelf serves a vital position."),
        act=_("Keep it as insurance."),
    ),
    Term(
        "hole",
        _("positions nothing on any shelf serves"),
        _("Positions in use for which no storeroom has anything, not even after work."),
        act=_("Decide whether to keep a piece, vital ones first."),
    ),
    Term(
        "holding-rate",
        _("Holding a piece for a year"),
        _("What it costs to keep stock, in percent of its value a year: capital, space, loss."),
        basis=_("Set by a person. Accounting knows the rate for capital."),
    ),
    Term(
        "order-cost",
        _("Cost of one order line"),
        _("What it costs to order once, whatever the number: writing, receiving, paying."),
    ),
    Term(
        "emergency-delivery",
        _("Emergency delivery"),
        _("Hours from an emergency order to the part at the drive."),
        basis=_("Set by a person, else from the emergency orders on record."),
    ),
    Term(
        "planning-days",
        _("From wear to order"),
        _("Days from seeing wear to sending the order; they count against the notice that inspections give."),
    ),
    Term(
        "chain-joints",
        _("Joints allowed in a chain"),
        _(
            "How many joints a chain made from pieces may have. Stock is counted in what can be cut "
            "or joined so."
        ),
    ),
    Term(
        "approvals",
        _("Approval of substitutes"),
        _("Who may approve what needs review, for each plant, with the telephone."),
    ),
    Term(
        "shop-times",
        _("Shop times"),
        _("Minutes of each kind of work in the machine shop."),
        basis=_("Set by a person or an estimate. They are part of the time in which a drive runs again."),
    ),
    Term(
        "value-bridge",
        _("Value of stock"),
        _("From the value on the first day to that of today, by kind of movement."),
        basis=_("All at the price of today; what has no price is not counted."),
    ),
]
