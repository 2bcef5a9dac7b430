"""Stock policies from a file; each new or changed one names who sent it."""

from api.exchange.checking import ParsedRow
from api.exchange.results import Report
from api.exchange.specifications import SpecificationWriter
from api.exchange.tables import TABLES
from api.exchange.writing import Upsert
from inventory.stores.ledger.movement import Who, name_of


class PolicyUpsert(Upsert):
    by: Who = ""

    def save(self, specifications: SpecificationWriter) -> None:
        name = name_of(self.by)
        for _, policy in self.new:
            policy.set_by_name = name
        for _, policy, changed in self.changed:
            policy.set_by_name = name
            changed.add("set_by_name")
        super().save(specifications)


def set_policies(rows: list[ParsedRow], report: Report, by: Who) -> None:
    writer = PolicyUpsert(TABLES["stock-policies"], rows, report)
    writer.by = by
    writer.write()
