"""Stock levels, the ledger and reservations. Written by `inventory.stores.ledger` alone."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Func, Max, OuterRef, Q, Subquery, Sum, Value
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from inventory.models.access_scope import in_storerooms
from inventory.models.fields import (
    GREATEST_QUANTITY,
    Stamped,
    at_most,
    check,
    filters,
    not_negative,
    one_of,
    orders,
    unique,
)
from inventory.models.item import Item, ItemQuerySet
from inventory.models.kits import Kit
from inventory.models.places import Bin, Storeroom
from inventory.models.text_index import TextIndex


class Condition(models.TextChoices):
    NEW = "new", _("new")
    USED_SERVICEABLE = "used_serviceable", _("used, serviceable")
    ON_HOLD = "on_hold", _("on hold")


AVAILABLE_CONDITIONS = (Condition.NEW, Condition.USED_SERVICEABLE)


@dataclass(frozen=True, slots=True)
class Totals:
    on_hand: int
    reserved: int
    available: int


class FreeQuantity(Func):
    """What may be issued; 0 if the condition forbids it. Written out, so that SQLite knows it again in an index."""

    output_field = models.IntegerField()
    arity = 3

    def as_sql(self, compiler: Any, connection: Any, **extra: Any) -> Any:  # type: ignore[override]
        condition, on_hand, reserved = (compiler.compile(one)[0] for one in self.get_source_expressions())
        words = ", ".join(f"'{word.value}'" for word in AVAILABLE_CONDITIONS)
        return f"CASE WHEN {condition} IN ({words}) THEN {on_hand} - {reserved} ELSE 0 END", ()


class StockLevelQuerySet(models.QuerySet["StockLevel"]):
    def available(self) -> "StockLevelQuerySet":
        """Rows with stock that may be issued and is not reserved."""
        return self.filter(condition__in=AVAILABLE_CONDITIONS, on_hand__gt=F("reserved"))

    def of_item(self, item: Item) -> "StockLevelQuerySet":
        return self.filter(item=item)

    def not_empty(self) -> "StockLevelQuerySet":
        return self.filter(on_hand__gt=0)

    def with_available(self) -> "StockLevelQuerySet":
        """Each row with `free`: what may be issued, 0 if the condition forbids it."""
        return self.annotate(free=FreeQuantity("condition", "on_hand", "reserved"))

    def totals(self) -> "Totals":
        """Sums over these rows, in one query."""
        sums = self.with_available().aggregate(
            on_hand=Sum("on_hand", default=0),
            reserved=Sum("reserved", default=0),
            available=Sum("free", default=0),
        )
        return Totals(**sums)

    def with_places(self) -> "StockLevelQuerySet":
        return self.select_related("item", "storeroom", "bin")


class StockLevel(Stamped):
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="levels")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="levels")
    bin = models.ForeignKey(Bin, null=True, blank=True, on_delete=models.PROTECT, related_name="levels")
    condition = models.CharField(max_length=20, choices=Condition.choices, default=Condition.NEW)
    on_hand = models.PositiveIntegerField(default=0)
    reserved = models.PositiveIntegerField(default=0)
    last_counted_at = models.DateTimeField(null=True, blank=True)
    is_closed = models.BooleanField(
        default=False, help_text=_("Its number is merged into another one: nothing is booked here.")
    )

    objects = StockLevelQuerySet.as_manager()

    class Meta:
        ordering = ["item_id", "storeroom_id", "condition"]
        indexes = [
            *orders("stock", "on_hand last_counted_at updated_at"),
            *filters("stock", "condition reserved"),
            models.Index(FreeQuantity("condition", "on_hand", "reserved"), "id", name="stock_by_free"),
        ]
        constraints = [
            unique(
                "stock_level_once_per_place",
                ["item", "storeroom", "condition"],
                _("This item already has a row in that storeroom and condition."),
            ),
            check("on_hand_not_negative", Q(on_hand__gte=0), _("There is not enough on the shelf.")),
            check(
                "reserved_not_above_on_hand",
                Q(reserved__gte=0) & Q(reserved__lte=F("on_hand")),
                _("The rest is reserved for other work."),
            ),
            at_most("stock_level", "on_hand", GREATEST_QUANTITY),
            check(
                "closed_stock_level_is_empty",
                Q(is_closed=False) | Q(on_hand=0),
                _("This number is merged into another one: book under that one."),
            ),
            one_of("stock_level", "condition", Condition, optional=False),
        ]

    def __str__(self) -> str:
        return f"{self.item}, {self.storeroom}: {self.on_hand}"

    @property
    def available(self) -> int:
        return self.on_hand - self.reserved if self.condition in AVAILABLE_CONDITIONS else 0


def with_stock_totals(items: ItemQuerySet) -> ItemQuerySet:
    """Each item with `on_hand`, `reserved` and `available` over the storerooms in scope, in the same query."""
    levels = in_storerooms(StockLevel.objects.filter(item=OuterRef("pk")))
    of_item = levels.with_available().order_by().values("item")

    def total(column: str) -> Coalesce:
        summed = of_item.annotate(total=Sum(column)).values("total")
        return Coalesce(Subquery(summed, output_field=models.IntegerField()), 0)

    return items.annotate(on_hand=total("on_hand"), reserved=total("reserved"), available=total("free"))


class StockPiece(Stamped):
    """One length of chain: a box or a remnant. The links of all pieces of a level add up to its on_hand."""

    level = models.ForeignKey(StockLevel, on_delete=models.PROTECT, related_name="pieces")
    links = models.PositiveIntegerField(help_text=_("Links left in this piece; 0 if used up."))
    label = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ["level_id", "-links", "id"]
        constraints = [
            check("piece_links_not_negative", Q(links__gte=0), _("The piece is not that long.")),
            at_most("piece", "links", GREATEST_QUANTITY),
        ]

    def __str__(self) -> str:
        return f"{self.links} links"


class MovementKind(models.TextChoices):
    RECEIPT = "receipt", _("receipt")
    ISSUE = "issue", _("issue")
    RETURN = "return", _("return")
    TRANSFER = "transfer", _("transfer")
    COUNT = "count", _("count")
    SCRAP = "scrap", _("scrap")


class ReasonCode(models.TextChoices):
    NOT_NEEDED = "not_needed", _("not needed")
    WORN = "worn", _("worn, leaves the books")
    DID_NOT_FIT = "did_not_fit", _("did not fit")
    WRONG_ITEM = "wrong_item", _("wrong item")
    DEFECTIVE = "defective", _("defective")
    SURPLUS = "surplus", _("surplus")
    FOUND = "found", _("found")
    NOT_THERE = "not_there", _("not there")
    WRITTEN_OFF = "written_off", _("written off")


class StockEntryQuerySet(models.QuerySet["StockEntry"]):
    def of_item(self, item: Item) -> "StockEntryQuerySet":
        return self.filter(item=item)

    def of_work_order(self, work_order: str) -> "StockEntryQuerySet":
        return self.filter(work_order=work_order)

    def issues(self) -> "StockEntryQuerySet":
        return self.filter(kind=MovementKind.ISSUE)

    def with_net(self) -> Any:
        """Each entry with `net`, what its reversals left of its change."""
        total = _reversals().annotate(total=Sum("change")).values("total")
        reversed_change = Coalesce(Subquery(total, output_field=models.IntegerField()), 0)
        return self.annotate(net=F("change") + reversed_change)

    def with_reversals(self) -> Any:
        """Each entry with `net` and `last_reversal`."""
        last = _reversals().annotate(last=Max("pk")).values("last")
        return self.with_net().annotate(last_reversal=Subquery(last))

    def with_supplier(self) -> Any:
        """Each entry with `supplier`: of what came for an order that of the order, else empty."""
        checks = StockEntry.delivery_checks.through.objects.filter(stockentry=OuterRef("pk")).order_by()
        named = Subquery(checks.values("deliverycheck__order__supplier")[:1])
        return self.annotate(supplier=Coalesce(named, Value("")))

    def not_reversed(self) -> Any:
        """Entries that stand, wholly or in part (`net`), and are no reversal."""
        entries = self.filter(reverses__isnull=True).with_net()
        return entries.filter(Q(change=0) | ~Q(net=0))

    def overdue(self, day: date) -> Any:
        """Issued on loan and due back before that day."""
        return self.issues().not_reversed().filter(expected_back_on__lt=day)

    def with_places(self) -> "StockEntryQuerySet":
        return self.select_related("item", "storeroom", "other_storeroom", "recorded_by")


def _reversals() -> Any:
    """Of the outer entry, for one sum over them."""
    return StockEntry.objects.filter(reverses=OuterRef("pk")).order_by().values("reverses")


class StockEntry(models.Model):
    """One line of the ledger; never changed or deleted."""

    kind = models.CharField(max_length=10, choices=MovementKind.choices)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="entries")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="entries")
    condition = models.CharField(max_length=20, choices=Condition.choices, default=Condition.NEW)
    piece = models.ForeignKey(
        StockPiece, null=True, blank=True, on_delete=models.PROTECT, related_name="entries"
    )
    change = models.IntegerField(help_text=_("Change of stock: positive in, negative out."))
    balance_after = models.PositiveIntegerField()
    counted = models.PositiveIntegerField(
        null=True, blank=True, help_text=_("Of a count: the counted quantity.")
    )
    transfer = models.UUIDField(
        null=True,
        blank=True,
        help_text=_("Shared by the two legs of a transfer, or by the return and the scrap of a worn part."),
    )
    other_storeroom = models.ForeignKey(
        Storeroom,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text=_("The other end of a transfer."),
    )
    work_order = models.CharField(max_length=60, blank=True)
    position = models.CharField(
        max_length=60, blank=True, help_text=_("Tag of the position that it was issued for.")
    )
    reason = models.CharField(max_length=200, blank=True)
    reference = models.CharField(
        max_length=80,
        blank=True,
        help_text=_("The sender's number of this movement; a repeated number is booked once."),
    )
    reason_code = models.CharField(
        max_length=12, choices=ReasonCode.choices, blank=True, help_text=_("Of a return, a count or a scrap.")
    )
    expected_back_on = models.DateField(
        null=True, blank=True, help_text=_("Of an issue on loan: when it is due back.")
    )
    reverses = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="reversals",
        help_text=_("The mistaken entry that this one reverses, wholly or in part."),
    )
    unit_cost = models.DecimalField(max_digits=14, decimal_places=2, null=True, blank=True)
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    recorded_by_name = models.CharField(max_length=150, blank=True)

    objects = StockEntryQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = _("stock entries")
        indexes = [
            models.Index(fields=["item", "storeroom", "condition", "id"], name="stock_entry_replay"),
            models.Index(fields=["work_order"], name="stock_entry_work_order"),
            models.Index(fields=["transfer"], name="stock_entry_transfer"),
            models.Index(fields=["position"], name="stock_entry_position"),
            TextIndex(fields=["reason", "work_order", "reference", "position"], name="stock_entry_text"),
            *orders("stock_entry", "occurred_at recorded_at kind"),
            *filters("stock_entry", "", words="reason_code", known_only="expected_back_on"),
        ]
        constraints = [
            unique(
                "movement_reference_booked_once",
                ["reference", "storeroom"],
                _("A movement of that reference is booked already."),
                condition=~Q(reference=""),
            ),
            check(
                "balance_after_not_negative",
                Q(balance_after__gte=0),
                _("A movement must not make the stock negative."),
            ),
            one_of("stock_entry", "kind", MovementKind, optional=False),
            one_of("stock_entry", "condition", Condition, optional=False),
            one_of("stock_entry", "reason_code", ReasonCode),
            at_most("stock_entry", "balance_after", GREATEST_QUANTITY),
            not_negative("stock_entry", "unit_cost"),
            check(
                "stock_entry_sign_follows_kind",
                Q(reverses__isnull=False)
                | Q(kind__in=["receipt", "return"], change__gt=0)
                | Q(kind__in=["issue", "scrap"], change__lt=0)
                | Q(kind="transfer") & ~Q(change=0)
                | Q(kind="count"),
                _("A receipt or a return adds stock, an issue or a scrap removes it."),
            ),
            check(
                "stock_entry_transfer_has_two_ends",
                Q(kind="transfer", transfer__isnull=False, other_storeroom__isnull=False)
                | Q(
                    kind__in=["return", "scrap"],
                    reason_code="worn",
                    transfer__isnull=False,
                    other_storeroom__isnull=True,
                )
                | ~Q(kind="transfer") & Q(transfer__isnull=True, other_storeroom__isnull=True),
                _("A transfer, and only a transfer, names its other storeroom."),
            ),
            check(
                "stock_entry_does_not_reverse_itself",
                Q(reverses__isnull=True) | ~Q(reverses=F("id")),
                _("An entry cannot reverse itself."),
            ),
            check(
                "count_says_what_was_found",
                ~Q(kind="count") | Q(counted__isnull=False),
                _("A count needs the counted quantity: give counted."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item}: {self.get_kind_display()} {self.change:+d}"


class ReservationState(models.TextChoices):
    OPEN = "open", _("open")
    USED = "used", _("used")
    RELEASED = "released", _("released")
    EXPIRED = "expired", _("expired")


class ReservationQuerySet(models.QuerySet["Reservation"]):
    def open(self) -> "ReservationQuerySet":
        return self.filter(state=ReservationState.OPEN)

    def expired_by(self, moment: datetime) -> "ReservationQuerySet":
        return self.open().filter(expires_at__lte=moment)

    def of_work_order(self, work_order: str) -> "ReservationQuerySet":
        return self.filter(work_order=work_order)

    def with_places(self) -> "ReservationQuerySet":
        return self.select_related("item", "storeroom")


class Reservation(Stamped):
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="reservations")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="reservations")
    condition = models.CharField(max_length=20, choices=Condition.choices, default=Condition.NEW)
    quantity = models.PositiveIntegerField()
    open_quantity = models.PositiveIntegerField(help_text=_("Still reserved on the shelf."))
    work_order = models.CharField(max_length=60)
    state = models.CharField(max_length=10, choices=ReservationState.choices, default=ReservationState.OPEN)
    expires_at = models.DateTimeField(null=True, blank=True)
    kit = models.ForeignKey(Kit, null=True, blank=True, on_delete=models.PROTECT, related_name="lines")
    short_quantity = models.PositiveIntegerField(
        default=0, help_text=_("Taken for urgent work: still needed, no longer reserved.")
    )
    taken_by = models.CharField(
        max_length=60, blank=True, help_text=_("The work order that took the short quantity.")
    )
    taken_reason = models.CharField(max_length=200, blank=True)
    reserved_by_name = models.CharField(max_length=150, blank=True)

    objects = ReservationQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(
                fields=["item", "storeroom", "condition"],
                condition=Q(state="open"),
                name="reservation_open_of_level",
            ),
            models.Index(fields=["expires_at"], condition=Q(state="open"), name="reservation_open_expiry"),
            models.Index(fields=["work_order"], name="reservation_work_order"),
            TextIndex(fields=["work_order", "reserved_by_name"], name="reservation_text"),
        ]
        constraints = [
            one_of("reservation", "state", ReservationState, optional=False),
            one_of("reservation", "condition", Condition, optional=False),
            at_most("reservation", "quantity", GREATEST_QUANTITY),
            check(
                "reservation_open_quantity_not_negative",
                Q(open_quantity__gte=0),
                _("open_quantity must be 0 or more."),
            ),
            check(
                "reservation_holds_back_only_while_open",
                Q(state="open", open_quantity__gt=0) | ~Q(state="open") & Q(open_quantity=0),
                _("An open reservation has an open quantity, an ended one has none."),
            ),
            check(
                "reservation_says_for_what", ~Q(work_order=""), _("Give the work order of the reservation.")
            ),
            check("reservation_quantity_positive", Q(quantity__gt=0), _("quantity must be at least 1.")),
            check(
                "reservation_open_not_above_quantity",
                Q(open_quantity__lte=F("quantity")),
                _("open_quantity must not exceed quantity."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.work_order}: {self.open_quantity} × {self.item}"
