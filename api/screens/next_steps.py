"""What can be done now where nothing that fits is available: no answer is a dead end."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _

from api.wording.labels import label
from api.wording.sentences import sentence
from drives.models import Position
from drives.substitutes.companions import Companion
from drives.substitutes.offers import Offer, RankedOffers
from inventory.catalogue.stock_on_hand import ShelfStock
from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import Grade
from inventory.models import Storeroom
from inventory.stores.lead_times import LeadTimeBasis, lead_times_of

MOST_NAMED = 6
"""Storerooms in a sentence; more are counted."""

MOST_TO_ORDER = 3


@dataclass(frozen=True)
class NextStep:
    what: Fact
    address: str = ""
    link: str = ""


@dataclass(frozen=True)
class NextSteps:
    """Why a next step is needed, and the steps; none where something that fits is available."""

    headline: Fact | None = None
    reason: Fact | None = None
    steps: tuple[NextStep, ...] = ()

    def __bool__(self) -> bool:
        return self.headline is not None


def next_steps(
    position: Position, answer: RankedOffers, storerooms: list[Storeroom], at: datetime, *, may_book: bool
) -> NextSteps:
    """From the most likely to help to the last resort."""
    usable = [offer for offer in answer.offers if offer.candidate.verdict.grade is not Grade.UNFIT]
    if position.drive.lifting:
        return _of_lifting_drive()
    free = [offer for offer in usable if offer.candidate.available]
    if free:
        return NextSteps() if answer.best_by_ready else _where_no_time_is_known(free[0])
    steps = (
        *_not_available(usable),
        *_on_order(usable),
        *_to_order(usable, position, at),
        *_elsewhere(position, usable),
        *_shop(position, storerooms, usable),
        *(_record(position) if may_book and not usable else ()),
    )
    return NextSteps(fact("no_fit_available" if usable else "no_fit_in_catalogue"), steps=steps)


def _of_lifting_drive() -> NextSteps:
    steps = (NextStep(fact("hoist_person_decides")), NextStep(fact("nearest_parts_for_hoist_person")))
    return NextSteps(fact("no_substitute_for_lifting_drive"), steps=steps)


def _where_no_time_is_known(offer: Offer) -> NextSteps:
    """The part is there, but something that goes with it is not, or a time is not recorded."""
    missing = [companion for companion in offer.companions if companion.is_short]
    steps = [
        NextStep(
            fact("companion_to_order"),
            f"{reverse('screens:home')}?{urlencode({'q': _search_words(companion)})}",
            f"{label(companion.kind).capitalize()} {sentence(companion.needed)}",
        )
        for companion in missing
    ]
    steps.append(NextStep(fact("part_can_be_fetched") if missing else fact("storeroom_knows_the_time")))
    return NextSteps(fact("ready_time_not_known"), offer.ready.reason, tuple(steps))


def _search_words(companion: Companion) -> str:
    """What finds such a part: the size of a bush, the designation of a chain."""
    values = companion.needed.values
    return str(values.get("bush_size") or values.get("designation") or "")


def _not_available(usable: Iterable[Offer]) -> Iterable[NextStep]:
    """Pieces on hand that are on hold, or reserved for other work."""
    for offer in usable:
        for shelf in offer.candidate.shelves:
            yield NextStep(
                _not_available_here(shelf),
                reverse("screens:item", args=[shelf.stock_number]),
                shelf.stock_number,
            )


def _not_available_here(shelf: ShelfStock) -> Fact:
    place = f"{shelf.storeroom}, {shelf.bin}" if shelf.bin else shelf.storeroom
    code = "pieces_on_hold_here" if shelf.condition == "on_hold" else "pieces_reserved_here"
    return fact(code, count=shelf.on_hand, place=place)


def _on_order(usable: Iterable[Offer]) -> Iterable[NextStep]:
    for offer in usable:
        number = offer.candidate.item.stock_number
        for order in offer.on_order:
            yield NextStep(order.reason, reverse("screens:item", args=[number]), number)


def _to_order(usable: list[Offer], position: Position, at: datetime) -> Iterable[NextStep]:
    """With the lead time of the item's own orders, else as entered."""
    items = [offer.candidate.item for offer in usable if not offer.on_order][:MOST_TO_ORDER]
    room_id = position.drive.equipment.area.plant.storeroom_id or 0
    known = lead_times_of([item.pk for item in items], room_id, at) if items else None
    for item in items:
        found = known.of(item.pk, room_id) if known else None
        if found and found.basis is LeadTimeBasis.BORROWED:
            found = None
        yield NextStep(
            fact("order_the_part", days=found.mean_days)
            if found
            else fact("order_the_part_without_lead_time"),
            reverse("screens:item", args=[item.stock_number]),
            item.stock_number,
        )
    if not usable:
        yield NextStep(fact("order_by_requirement"))


def _elsewhere(position: Position, usable: list[Offer]) -> Iterable[NextStep]:
    for offer in usable[:1]:
        number = offer.candidate.item.stock_number
        yield NextStep(
            fact("take_from_idle_machine"),
            reverse("screens:item", args=[number]) + "#fitted",
            _("Where {number} is fitted").format(number=number),
        )
    yield NextStep(
        fact("change_both_sprockets_later"),
        reverse("screens:drive", args=[position.drive.tag]),
        _("Drive {tag}").format(tag=position.drive.tag),
    )


def _record(position: Position) -> Iterable[NextStep]:
    """Where no item stands for it, what was asked for is known by the place alone."""
    asked = {"position": position.tag, "then": reverse("screens:position", args=[position.tag])}
    address = f"{reverse('screens:act', args=['ask'])}?{urlencode(asked)}"
    yield NextStep(fact("record_as_asked_for"), address, _("Record as asked for, not filled"))


def _shop(position: Position, storerooms: list[Storeroom], usable: list[Offer]) -> Iterable[NextStep]:
    plant = position.drive.equipment.area.plant
    shop = plant.machine_shop or (plant.storeroom.machine_shop if plant.storeroom else None)
    if shop is not None:
        name = f"{shop.name} ({shop.phone})" if shop.phone else shop.name
        yield NextStep(fact("ask_machine_shop", shop=name))
    holding = {shelf.storeroom_id for offer in usable for shelf in offer.candidate.shelves}
    others = [room.name for room in storerooms if room.pk not in holding | {plant.storeroom_id}]
    if len(others) > MOST_NAMED:
        yield NextStep(fact("none_in_many_other_storerooms", storerooms=len(others)))
    elif others:
        yield NextStep(fact("none_in_other_storerooms", storerooms=tuple(others)))
