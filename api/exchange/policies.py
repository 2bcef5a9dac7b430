"""Stock policies from a file; each new or changed one names who sent it."""

from api.exchange.checking import ParsedRow
from api.exchange.results import Report, RowOutcome
from api.exchange.specifications import SpecificationWriter
from api.exchange.tables import TABLES
from api.exchange.writing import Upsert
from inventory.stores.ledger.movement import Who, name_of


class PolicyUpsert(Upsert):
    by: Who = ""

    def save(self, specifications: SpecificationWriter) -> None:
        for planned in self.planned:
            if planned.outcome is not RowOutcome.UNCHANGED:
                planned.record.set_by_name = name_of(self.by)
            if planned.changed:
                planned.changed.add("set_by_name")
        super().save(specifications)


def set_policies(rows: list[ParsedRow], report: Report, by: Who) -> None:
    writer = PolicyUpsert(TABLES["stock-policies"], rows, report)
    writer.by = by
    writer.write()
