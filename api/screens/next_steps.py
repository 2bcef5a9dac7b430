"""What can be done now where nothing that fits is at hand: no answer ends without a way on."""

from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

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
    """One thing that can be done, with a place to do it where there is one."""

    sentence: str
    address: str = ""
    link: str = ""


@dataclass(frozen=True)
class NextSteps:
    """Why a way is needed, and the ways; none where something that fits lies free on a shelf."""

    headline: str = ""
    ways: tuple[NextStep, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.headline)


def next_steps(place: Position, answer: RankedOffers, storerooms: list[Storeroom]) -> NextSteps:
    """The way on, from the most likely to help to the last resort."""
    usable = [offer for offer in answer.offers if offer.candidate.verdict.grade is not Grade.UNFIT]
    if place.drive.lifting:
        return NextSteps(
            "This drive lifts: nothing is offered as a substitute here.",
            (
                NextStep(
                    "Whoever answers for the hoist decides, by its papers and the maker's part list. Take it out of use until then."
                ),
                NextStep("What comes near is listed below for that person alone, with every check."),
            ),
        )
    free = [offer for offer in usable if offer.candidate.available]
    if free:
        return NextSteps() if answer.best_by_ready else _when_no_time_is_known(free[0])
    headline = "What would fit is on no shelf." if usable else "Nothing in the catalogue fits this place."
    ways = (
        *_held_back(usable),
        *_to_order(usable),
        *_elsewhere(place, usable),
        *_shop(place, storerooms, usable),
    )
    return NextSteps(headline, ways)


def _when_no_time_is_known(offer: Offer) -> NextSteps:
    """The part is there, but something that goes with it is not, or a time is not recorded."""
    missing = [companion for companion in offer.companions if companion.is_short]
    ways = [
        NextStep(
            "not free in one piece, or at all. See what lies there, and order it.",
            f"{reverse('screens:home')}?{urlencode({'q': _search_words(companion)})}",
            f"{companion.kind.replace('_', ' ').capitalize()} {sentence(companion.needed)}",
        )
        for companion in missing
    ]
    ways.append(
        NextStep(
            "The part itself can be fetched meanwhile."
            if missing
            else "Ask the storeroom for the time: it is not recorded."
        )
    )
    reason = sentence(offer.ready.reason) if offer.ready.reason else ""
    return NextSteps(f"When it would run cannot be said. {reason}", tuple(ways))


def _search_words(companion: Companion) -> str:
    """What finds such a part: the size of a bush, the designation of a chain."""
    values = companion.needed.values
    return str(values.get("bush_size") or values.get("designation") or "")


def _held_back(usable: Iterable[Offer]) -> Iterable[NextStep]:
    """Pieces that are there but not free: on hold, or reserved for other work."""
    for offer in usable:
        for shelf in offer.candidate.shelves:
            place = f"{shelf.storeroom}, bin {shelf.bin}" if shelf.bin else shelf.storeroom
            yield NextStep(
                f"{_pieces(shelf)} in {place}, {_why_not_free(shelf)}",
                reverse("screens:item", args=[shelf.stock_number]),
                shelf.stock_number,
            )


def _pieces(shelf: ShelfStock) -> str:
    return "one piece" if shelf.on_hand == 1 else f"{shelf.on_hand} pieces"


def _why_not_free(shelf: ShelfStock) -> str:
    if shelf.condition == "on_hold":
        return "on hold. Find out why before anybody takes it: it may be another thing than its number says."
    return "reserved. Ask who holds it whether this breakdown comes first."


def _to_order(usable: list[Offer]) -> Iterable[NextStep]:
    for offer in usable[:MOST_TO_ORDER]:
        item = offer.candidate.item
        days = (
            f"about {item.lead_time_days} days"
            if item.lead_time_days
            else "how long it takes is not recorded"
        )
        yield NextStep(
            f"order it ({days}), by its attributes, so that any maker can answer.",
            reverse("screens:item", args=[item.stock_number]),
            item.stock_number,
        )
    if not usable:
        yield NextStep(
            "Order by what the place asks for, as it stands above: any maker of sprockets can answer to that."
        )


def _elsewhere(place: Position, usable: list[Offer]) -> Iterable[NextStep]:
    for offer in usable[:1]:
        number = offer.candidate.item.stock_number
        yield NextStep(
            "a machine that stands idle may lend it.",
            reverse("screens:item", args=[number]) + "#fitted",
            f"Where {number} is fitted",
        )
    yield NextStep(
        "tomorrow, with an engineer: both sprockets changed together may keep the ratio.",
        reverse("screens:drive", args=[place.drive.tag]),
        f"Drive {place.drive.tag}",
    )


def _shop(place: Position, storerooms: list[Storeroom], usable: list[Offer]) -> Iterable[NextStep]:
    plant = place.drive.equipment.area.plant
    shop = plant.machine_shop or (plant.storeroom.machine_shop if plant.storeroom else None)
    if shop is not None:
        phone = f", {shop.phone}," if shop.phone else ""
        yield NextStep(f"Ask the {shop.name}{phone} whether one can be made, and by when.")
    holding = {shelf.storeroom_id for offer in usable for shelf in offer.candidate.shelves}
    others = [room.name for room in storerooms if room.pk not in holding | {plant.storeroom_id}]
    if others:
        yield NextStep(
            f"The books of {' and '.join(others)} have none either. A piece in a locker has no number: ask the shift."
        )
