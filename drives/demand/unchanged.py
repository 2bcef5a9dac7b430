"""Whether anything that recommendations are made from has changed since the last run: looked at before any of the work."""

import hashlib
from datetime import datetime

from django.apps import apps

from drives.demand.snapshot import end_of_day
from drives.models import (
    CodeWord,
    Cover,
    CoverState,
    InboundMessage,
    ItemPart,
    NeededPart,
    PlantEstimate,
    PoolEstimate,
    RecordStart,
    StoredDemand,
    StoredNeed,
    WorkOrder,
)
from inventory.catalogue.plant_practice import current_demand_settings, current_practice
from inventory.models import (
    CountTask,
    DeliveryCheck,
    DuplicateGroup,
    DuplicateMember,
    DuplicateShelf,
    Event,
    FitQuestion,
    Kit,
    Lease,
    Merge,
    MergeLine,
    Recommendation,
    Reservation,
    StockingRun,
)
from inventory.planning.inputs_hash import METHOD
from inventory.planning.terms import load_targets, load_terms
from inventory.plumbing.content_digest import content_digest

RESULTS = (
    Cover,
    CoverState,
    ItemPart,
    PlantEstimate,
    PoolEstimate,
    StoredDemand,
    StoredNeed,
    Recommendation,
    StockingRun,
)
"""Written by runs alone; of the starts of records what people set is read apart."""

RESULTS_FORM = 2
"""Raised when runs leave more than they did, so that the next one leaves it even where nothing has changed."""

NOT_READ = (
    CodeWord,
    CountTask,
    DeliveryCheck,
    DuplicateGroup,
    DuplicateMember,
    DuplicateShelf,
    Event,
    FitQuestion,
    InboundMessage,
    Kit,
    Lease,
    Merge,
    MergeLine,
    NeededPart,
    Reservation,
    WorkOrder,
)
"""No recommendation is made from these; a test watches that no run reads them."""


def digest_of_inputs(as_of: datetime) -> str:
    """Of every record that a run may read, of the shipped values in force, and of the day.

    A record that is new in the product is in it until somebody shows that runs do not read it.
    """
    left_out = {*RESULTS, *NOT_READ, RecordStart}
    records = [
        one
        for app in ("inventory", "drives")
        for one in apps.get_app_config(app).get_models()
        if one not in left_out and one._meta.managed
    ]
    set_starts = RecordStart.objects.filter(complete_from__isnull=False).order_by("pk")
    parts = (
        METHOD,
        RESULTS_FORM,
        end_of_day(as_of),
        as_of.date(),
        current_practice(),
        current_demand_settings(),
        load_terms(),
        sorted(load_targets().items()),
        list(set_starts.values_list("storeroom", "source", "complete_from", "note")),
        content_digest(records, at=as_of),
    )
    return hashlib.sha256(repr(parts).encode()).hexdigest()
