"""What must hold of the ledger whatever was done to it: the invariants by their numbers, read from the rows.

Not here: 12 speaks of serial numbers, which the ledger does not keep; its pieces of chain lie on one shelf each and are
added up by `replay`. 14, the crossing of a reorder point, belongs to the tests of what is exposed and ordered.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence

from django.db import IntegrityError, transaction
from django.db.models import Count, F, Sum

from inventory.models import Event, Item, Reservation, StockEntry, StockLevel, Storeroom
from inventory.stores.ledger import balance_at
from inventory.stores.ledger.verify import verify
from tests.proof.plain_model import Place, PlainModel
from tests.proof.steps import Mismatch


def demand(claim: bool, sentence: str) -> None:
    if not claim:
        raise Mismatch(sentence)


def same(of: str, found: object, expected: object) -> None:
    demand(found == expected, f"{of}: the service has {found}, the model {expected}")


def check_rows() -> None:
    """1, 2, 3, 5, 6, 9, 10, 13: by the service's own reading of its ledger, then by plain sums."""
    differences = verify()
    demand(not differences, "; ".join(map(str, differences)))
    for item in Item.objects.annotate(shelved=Sum("levels__on_hand", default=0)):
        outside = -(StockEntry.objects.filter(item=item).aggregate(total=Sum("change", default=0))["total"])
        same(f"1: {item} on all shelves and outside", item.shelved + outside, 0)
    bad = StockLevel.objects.filter(on_hand__lt=F("reserved")) | StockLevel.objects.filter(on_hand__lt=0)
    demand(not bad.exists(), "3: a shelf below nothing, or below what is reserved")
    unsigned = StockEntry.objects.filter(recorded_by_name="")
    nameless = StockEntry.objects.filter(reverses__isnull=False, reason="")
    demand(not (unsigned | nameless).exists(), "5: an entry without who, or a reversal without why")
    known = StockEntry.objects.exclude(reference="").order_by().values("reference", "storeroom")
    demand(not known.annotate(n=Count("pk")).filter(n__gt=1).exists(), "6: a reference with two effects")
    told = Event.objects.filter(type="stock.moved").count()
    same("every entry is told once", told, StockEntry.objects.count())


def check_permanence() -> None:
    """4: neither by a query nor by an instance."""
    entry = StockEntry.objects.order_by("pk").first()
    if entry is None:
        return
    attempts = [lambda: StockEntry.objects.filter(pk=entry.pk).update(reason="changed"), entry.delete]
    for attempt in attempts:
        try:
            with transaction.atomic():
                attempt()
        except IntegrityError:
            continue
        raise Mismatch("4: an entry was changed or deleted")


def check_against(model: PlainModel, pks: Sequence[int], at: Sequence[int]) -> None:
    """Balances, entries, reservations (7, 8) and balances of the past (11) as the model has them."""
    columns = ("item__stock_number", "storeroom__code", "condition")
    levels = {
        tuple(place): (on_hand, reserved)
        for *place, on_hand, reserved in StockLevel.objects.values_list(*columns, "on_hand", "reserved")
    }
    reserved: Counter[Place] = Counter()
    for hold in model.holds:
        reserved[hold.place] += hold.open
    for place in set(levels) | set(model.on_hand):
        same(f"2: {place}", levels.get(place, (0, 0)), (model.on_hand[place], reserved[place]))
    rows = list(StockEntry.objects.order_by("pk").values_list("pk", "kind", *columns, "change"))
    numbers = [
        (pk, entry.kind, *entry.place, entry.change) for pk, entry in zip(pks, model.entries, strict=True)
    ]
    same("4: the entries in order", rows, numbers)
    check_holds(model)
    check_past(model, pks, at)


def check_holds(model: PlainModel) -> None:
    """7 and 8: each ends once, and what was used, taken, let go and is open adds up to what was reserved."""
    rows = Reservation.objects.order_by("pk").values_list(
        "quantity", "open_quantity", "short_quantity", "state"
    )
    plain = [(hold.quantity, hold.open, hold.short, hold.state) for hold in model.holds]
    same("7: the reservations in order", list(rows), plain)
    parts = [hold.open + hold.used + hold.short + hold.let_go for hold in model.holds]
    same("8: parts of the reservations", parts, [hold.quantity for hold in model.holds])
    ends = Event.objects.filter(type__in=["reservation.released", "reservation.expired"])
    aggregates = ends.order_by().values("aggregate").annotate(n=Count("pk")).filter(n__gt=1)
    demand(not aggregates.exists(), "7: a reservation that ended twice")


def check_past(model: PlainModel, pks: Sequence[int], at: Sequence[int]) -> None:
    """11: what lay where after some entries of the past."""
    items = {item.stock_number: item for item in Item.objects.all()}
    rooms = {room.code: room for room in Storeroom.objects.all()}
    balances: dict[Place, int] = defaultdict(int)
    wanted = {number % len(pks) for number in at} if pks else set()
    for number, entry in enumerate(model.entries):
        balances[entry.place] += entry.change
        if number in wanted:
            place = entry.place
            then = balance_at(items[place[0]], rooms[place[1]], place[2], pks[number])
            same(f"11: {place} after entry {number}", then, balances[place])
