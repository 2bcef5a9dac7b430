"""Kits, counts and questions: what a storeroom has to do."""

from api.edge.declarations import in_storeroom
from api.wire.declaration import WireRecord, declare
from inventory.models import CountTask, FitQuestion, Kit

KITS = declare(WireRecord(Kit, path="kits", log_key="work_order pk", scope=in_storeroom("storeroom")))
COUNT_TASKS = declare(
    WireRecord(CountTask, path="count-tasks", log_key="item storeroom pk", scope=in_storeroom("storeroom"))
)
FIT_QUESTIONS = declare(
    WireRecord(
        FitQuestion, path="fit-questions", log_key="item storeroom pk", scope=in_storeroom("storeroom")
    )
)
