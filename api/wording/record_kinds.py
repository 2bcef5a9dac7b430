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


def kind_for_programs(model: type[Model]) -> str:
    """The same in every language.

    >>> from inventory.models import StockPolicy
    >>> kind_for_programs(StockPolicy)
    'stock policy'
    """
    return camel_case_to_spaces(model.__name__)
