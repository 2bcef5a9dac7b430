"""What the kinds of record are called: one and several of them."""

from django.db.models import Model
from django.utils.functional import Promise
from django.utils.text import camel_case_to_spaces
from django.utils.translation import gettext_lazy as _

RECORD_KINDS: dict[str, tuple[Promise, Promise]] = {
    "AccessToken": (_("access token"), _("access tokens")),
    "Approval": (_("approval"), _("approvals")),
    "Area": (_("area"), _("areas")),
    "Bin": (_("bin"), _("bins")),
    "Change": (_("change of a record"), _("changes of records")),
    "CodeWord": (_("code of a source"), _("codes of sources")),
    "CountTask": (_("count"), _("counts")),
    "Cover": (_("part that serves a position"), _("parts that serve positions")),
    "CoverState": (_("state of the parts of a position"), _("states of the parts of positions")),
    "DeliveryCheck": (_("delivery check"), _("delivery checks")),
    "Drive": (_("drive"), _("drives")),
    "DuplicateGroup": (_("group of duplicates"), _("groups of duplicates")),
    "DuplicateMember": (_("number in a group of duplicates"), _("numbers in groups of duplicates")),
    "DuplicateShelf": (_("shelf of duplicates"), _("shelves of duplicates")),
    "Equipment": (_("equipment"), _("equipment")),
    "Event": (_("event"), _("events")),
    "FitQuestion": (_("fit question"), _("fit questions")),
    "InboundMessage": (_("message of the work-order system"), _("messages of the work-order system")),
    "Inspection": (_("inspection"), _("inspections")),
    "Installation": (_("installation"), _("installations")),
    "Item": (_("item"), _("items")),
    "ItemPart": (_("item with its part"), _("items with their parts")),
    "Kit": (_("kit"), _("kits")),
    "Lease": (_("lease of a background job"), _("leases of background jobs")),
    "LoginAttempt": (_("login attempt"), _("login attempts")),
    "MachineShop": (_("machine shop"), _("machine shops")),
    "Merge": (_("merge of numbers"), _("merges of numbers")),
    "MergeLine": (_("line of a merge"), _("lines of merges")),
    "MeterReading": (_("meter reading"), _("meter readings")),
    "MissingAttribute": (_("missing attribute"), _("missing attributes")),
    "NeededPart": (_("part of a work order"), _("parts of work orders")),
    "OpeningHours": (_("opening time"), _("opening hours")),
    "Plant": (_("plant"), _("plants")),
    "PlantEstimate": (_("estimate of all plants"), _("estimates of all plants")),
    "PlantSetting": (_("setting of the calculation"), _("settings of the calculation")),
    "PoolEstimate": (_("estimate of a part"), _("estimates of parts")),
    "Position": (_("position"), _("positions")),
    "Reach": (_("reach"), _("reaches")),
    "Recommendation": (_("recommendation"), _("recommendations")),
    "RecordStart": (_("start of the record"), _("starts of the record")),
    "RecordedVerdict": (_("recorded verdict"), _("recorded verdicts")),
    "Request": (_("request"), _("requests")),
    "Reservation": (_("reservation"), _("reservations")),
    "Rule": (_("threshold of the plant"), _("thresholds of the plant")),
    "RunDown": (_("item being run down"), _("items being run down")),
    "ServiceTarget": (_("service target"), _("service targets")),
    "ShopTime": (_("shop time"), _("shop times")),
    "Specification": (_("specification"), _("specifications")),
    "StockEntry": (_("movement"), _("movements")),
    "StockLevel": (_("stock of an item"), _("stock of items")),
    "StockPiece": (_("piece of chain"), _("pieces of chain")),
    "StockPolicy": (_("stock policy"), _("stock policies")),
    "StockingRun": (_("stocking run"), _("stocking runs")),
    "StockingTerms": (_("stocking terms"), _("stocking terms")),
    "StoredDemand": (_("stored demand of a position"), _("stored demands of positions")),
    "StoredNeed": (_("stored demand of an item"), _("stored demands of items")),
    "Storeroom": (_("storeroom"), _("storerooms")),
    "SubstitutionRule": (_("rule for substitutes"), _("rules for substitutes")),
    "SupplyOrder": (_("supply order"), _("supply orders")),
    "TransferTime": (_("transfer time"), _("transfer times")),
    "WorkOrder": (_("work order"), _("work orders")),
}


FILE_KINDS: dict[str, Promise] = {
    "machine-shops": RECORD_KINDS["MachineShop"][1],
    "storerooms": RECORD_KINDS["Storeroom"][1],
    "bins": RECORD_KINDS["Bin"][1],
    "opening-hours": RECORD_KINDS["OpeningHours"][1],
    "transfer-times": RECORD_KINDS["TransferTime"][1],
    "shop-times": RECORD_KINDS["ShopTime"][1],
    "rules": RECORD_KINDS["Rule"][1],
    "plants": RECORD_KINDS["Plant"][1],
    "areas": RECORD_KINDS["Area"][1],
    "equipment": RECORD_KINDS["Equipment"][1],
    "drives": RECORD_KINDS["Drive"][1],
    "positions": RECORD_KINDS["Position"][1],
    "items": RECORD_KINDS["Item"][1],
    "opening-balances": _("opening balances"),
    "movements": RECORD_KINDS["StockEntry"][1],
    "installations": RECORD_KINDS["Installation"][1],
    "inspections": RECORD_KINDS["Inspection"][1],
    "requests": RECORD_KINDS["Request"][1],
    "supply-orders": RECORD_KINDS["SupplyOrder"][1],
    "delivery-checks": RECORD_KINDS["DeliveryCheck"][1],
    "stock-policies": RECORD_KINDS["StockPolicy"][1],
    "service-targets": RECORD_KINDS["ServiceTarget"][1],
    "source-answers": _("answers about sources"),
    "work-orders": RECORD_KINDS["WorkOrder"][1],
    "parts-used": _("parts used"),
    "meter-readings": RECORD_KINDS["MeterReading"][1],
}
"""What the rows of a file are."""


def file_kind(kind: str) -> str:
    return str(FILE_KINDS.get(kind, kind))


def kind_for_programs(model: type[Model]) -> str:
    """The same in every language.

    >>> from inventory.models import StockPolicy
    >>> kind_for_programs(StockPolicy)
    'stock policy'
    """
    return camel_case_to_spaces(model.__name__)
