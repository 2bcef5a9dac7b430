"""What can be done now where nothing that fits is available: no answer is a dead end."""

from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from api.wording.figures import listed
from api.wording.labels import label
from api.wording.sentences import sentence
from drives.models import Position
from drives.substitutes.companions import Companion
from drives.substitutes.offers import Offer, RankedOffers
from inventory.catalogue.stock_on_hand import ShelfStock
from inventory.interchange.vocabulary import Grade
from inventory.models import Storeroom

MOST_TO_ORDER = 3


@dataclass(frozen=True)
class NextStep:
    text: str
    address: str = ""
    link: str = ""


@dataclass(frozen=True)
class NextSteps:
    """Why a next step is needed, and the steps; none where something that fits is available."""

    headline: str = ""
    steps: tuple[NextStep, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.headline)


def next_steps(position: Position, answer: RankedOffers, storerooms: list[Storeroom]) -> NextSteps:
    """From the most likely to help to the last resort."""
    usable = [offer for offer in answer.offers if offer.candidate.verdict.grade is not Grade.UNFIT]
    if position.drive.lifting:
        return _of_lifting_drive()
    free = [offer for offer in usable if offer.candidate.available]
    if free:
        return NextSteps() if answer.best_by_ready else _where_no_time_is_known(free[0])
    steps = (
        *_not_available(usable),
        *_to_order(usable),
        *_elsewhere(position, usable),
        *_shop(position, storerooms, usable),
    )
    if usable:
        return NextSteps(_("Nothing that fits is available in stock."), steps)
    return NextSteps(_("Nothing in the catalogue fits this position."), steps)


def _of_lifting_drive() -> NextSteps:
    decides = _(
        "The person responsible for the hoist decides, from its papers and the maker's parts list."
        " Take it out of use until then."
    )
    nearest = _("The nearest parts are listed below for that person only, with every check.")
    return NextSteps(
        _("This is a lifting drive: no substitute is offered."), (NextStep(decides), NextStep(nearest))
    )


def _where_no_time_is_known(offer: Offer) -> NextSteps:
    """The part is there, but something that goes with it is not, or a time is not recorded."""
    missing = [companion for companion in offer.companions if companion.is_short]
    steps = [
        NextStep(
            _("not available, or not in one piece. See what is in stock, and order it."),
            f"{reverse('screens:home')}?{urlencode({'q': _search_words(companion)})}",
            f"{label(companion.kind).capitalize()} {sentence(companion.needed)}",
        )
        for companion in missing
    ]
    steps.append(
        NextStep(_("The part itself can be fetched now."))
        if missing
        else NextStep(_("Ask the storeroom for the time: it is not recorded."))
    )
    headline = _("The time until the drive runs is not known.")
    reason = sentence(offer.ready.reason) if offer.ready.reason else ""
    return NextSteps(f"{headline} {reason}", tuple(steps))


def _search_words(companion: Companion) -> str:
    """What finds such a part: the size of a bush, the designation of a chain."""
    values = companion.needed.values
    return str(values.get("bush_size") or values.get("designation") or "")


def _not_available(usable: Iterable[Offer]) -> Iterable[NextStep]:
    """Pieces on hand that are on hold, or reserved for other work."""
    for offer in usable:
        for shelf in offer.candidate.shelves:
            yield NextStep(
                _pieces_not_available(shelf),
                reverse("screens:item", args=[shelf.stock_number]),
                shelf.stock_number,
            )


def _pieces_not_available(shelf: ShelfStock) -> str:
    place = f"{shelf.storeroom}, {shelf.bin}" if shelf.bin else shelf.storeroom
    text = ngettext("{count} piece in {place}, {state}", "{count} pieces in {place}, {state}", shelf.on_hand)
    if shelf.condition == "on_hold":
        state = _("on hold. Find out why before you take it: it may not be what its number says.")
    else:
        state = _("reserved. Ask who reserved it whether this breakdown goes first.")
    return text.format(count=shelf.on_hand, place=place, state=state)


def _to_order(usable: list[Offer]) -> Iterable[NextStep]:
    for offer in usable[:MOST_TO_ORDER]:
        item = offer.candidate.item
        if item.lead_time_days:
            text = _("order it (about {days} days), by its attributes so that any maker can supply it.")
        else:
            text = _("order it (lead time not recorded), by its attributes so that any maker can supply it.")
        yield NextStep(
            text.format(days=item.lead_time_days),
            reverse("screens:item", args=[item.stock_number]),
            item.stock_number,
        )
    if not usable:
        yield NextStep(_("Order by the requirement above: any maker of sprockets can quote for it."))


def _elsewhere(position: Position, usable: list[Offer]) -> Iterable[NextStep]:
    for offer in usable[:1]:
        number = offer.candidate.item.stock_number
        yield NextStep(
            _("take it from a machine that stands idle."),
            reverse("screens:item", args=[number]) + "#fitted",
            _("Where {number} is fitted").format(number=number),
        )
    yield NextStep(
        _("later, with an engineer: changing both sprockets together may keep the ratio."),
        reverse("screens:drive", args=[position.drive.tag]),
        _("Drive {tag}").format(tag=position.drive.tag),
    )


def _shop(position: Position, storerooms: list[Storeroom], usable: list[Offer]) -> Iterable[NextStep]:
    plant = position.drive.equipment.area.plant
    shop = plant.machine_shop or (plant.storeroom.machine_shop if plant.storeroom else None)
    if shop is not None:
        name = f"{shop.name} ({shop.phone})" if shop.phone else shop.name
        yield NextStep(
            _("Ask the machine shop whether one can be made, and by when: {shop}.").format(shop=name)
        )
    holding = {shelf.storeroom_id for offer in usable for shelf in offer.candidate.shelves}
    others = [room.name for room in storerooms if room.pk not in holding | {plant.storeroom_id}]
    if others:
        text = _("None on record in {storerooms} either. Ask the shift whether one lies in a locker.")
        yield NextStep(text.format(storerooms=listed(others)))
