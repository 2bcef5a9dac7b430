"""What else to reach for when a shelf turns out to be empty."""

from datetime import datetime

from drives.models import Position
from drives.substitutes.answer import Offer, substitutes_for_item, substitutes_for_position
from inventory.interchange.vocabulary import Grade
from inventory.models import Item, Storeroom

MOST = 5


def next_best(item: Item, position: Position | None, *, here: Storeroom, at: datetime) -> list[Offer]:
    """What lies free somewhere and may serve at the position, else in place of the item: best first, five at most.

    Nothing is put forward for a drive that lifts.
    """
    if position is not None:
        places = Position.objects.with_drive().prefetch_related("drive__positions")
        answer = substitutes_for_position(places.get(pk=position.pk), here_id=here.pk, at=at)
    else:
        known = Item.objects.with_specification().get(pk=item.pk)
        answer = substitutes_for_item(known, here_id=here.pk, at=at)
    if position is not None and answer.place is not None and answer.place.duty.lifting:
        return []
    fit = [offer for offer in answer.offers if offer.candidate.verdict.grade is not Grade.UNFIT]
    return [offer for offer in fit if offer.candidate.available > 0][:MOST]
