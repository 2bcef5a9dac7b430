"""What can be done now where nothing that fits is at hand: no answer ends without a way on."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.urls import reverse

from drives.models import Position
from drives.substitutes import Answer, Offer
from inventory.interchange.vocabulary import Grade
from inventory.models import Storeroom
from inventory.shelves import Shelf


@dataclass(frozen=True)
class Way:
    """One thing that can be done, with a place to do it where there is one."""

    sentence: str
    address: str = ""
    link: str = ""


@dataclass(frozen=True)
class WaysOn:
    """Why a way is needed, and the ways; none where something that fits lies free on a shelf."""

    headline: str = ""
    ways: tuple[Way, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.headline)


def ways_on(place: Position, answer: Answer, storerooms: list[Storeroom]) -> WaysOn:
    """The way on, from the most likely to help to the last resort."""
    usable = [offer for offer in answer.offers if offer.candidate.verdict.grade is not Grade.UNFIT]
    if place.drive.lifting:
        return WaysOn(
            "This drive lifts: nothing is offered as a substitute here.",
            (
                Way(
                    "Whoever answers for the hoist decides, by its papers and the maker's part list. Take it out of use until then."
                ),
                Way("What comes near is listed below for that person alone, with every check."),
            ),
        )
    if any(offer.candidate.available for offer in usable):
        return WaysOn()
    headline = "What would fit is on no shelf." if usable else "Nothing in the catalogue fits this place."
    ways = (*_held_back(usable), *_to_order(usable), *_elsewhere(place, usable), *_shop(place, storerooms))
    return WaysOn(headline, ways)


def _held_back(usable: Iterable[Offer]) -> Iterable[Way]:
    """Pieces that are there but not free: on hold, or reserved for other work."""
    for offer in usable:
        for shelf in offer.candidate.shelves:
            yield Way(
                f"{_pieces(shelf)} of {shelf.stock_number} in {shelf.storeroom}"
                f"{', bin ' + shelf.bin if shelf.bin else ''}: {_why_not_free(shelf)}",
                reverse("screens:item", args=[shelf.stock_number]),
                shelf.stock_number,
            )


def _pieces(shelf: Shelf) -> str:
    return "One piece" if shelf.on_hand == 1 else f"{shelf.on_hand} pieces"


def _why_not_free(shelf: Shelf) -> str:
    if shelf.condition == "on_hold":
        return "on hold. Find out why before anybody takes it: it may be another thing than its number says."
    return "reserved. Ask who holds it whether this breakdown comes first."


def _to_order(usable: list[Offer]) -> Iterable[Way]:
    for offer in usable[:3]:
        item = offer.candidate.item
        days = (
            f"about {item.lead_time_days} days to buy" if item.lead_time_days else "time to buy not recorded"
        )
        yield Way(
            f"Order {item.stock_number}, {days}; ask for it by its attributes, so that any maker can answer.",
            reverse("screens:item", args=[item.stock_number]),
            item.stock_number,
        )
    if not usable:
        yield Way(
            "Order by what the place asks for, as it stands above: any maker of sprockets can answer to that."
        )


def _elsewhere(place: Position, usable: list[Offer]) -> Iterable[Way]:
    for offer in usable[:1]:
        number = offer.candidate.item.stock_number
        yield Way(
            "See where the same part runs now: a machine that stands idle may lend it.",
            reverse("screens:item", args=[number]) + "#fitted",
            f"Where {number} is fitted",
        )
    yield Way(
        "Both sprockets changed together can keep the ratio: look at the drive with its planner.",
        reverse("screens:drive", args=[place.drive.tag]),
        place.drive.tag,
    )


def _shop(place: Position, storerooms: list[Storeroom]) -> Iterable[Way]:
    plant = place.drive.equipment.area.plant
    shop = plant.machine_shop or (plant.storeroom.machine_shop if plant.storeroom else None)
    if shop is not None:
        phone = f", {shop.phone}" if shop.phone else ""
        yield Way(f"Ask the {shop.name}{phone} whether one can be made, and by when.")
    others = [room.name for room in storerooms if plant.storeroom_id != room.pk]
    if others:
        yield Way(
            f"Nobody has booked one at {' or '.join(others)} either; a piece in a locker has no number. Ask there."
        )
