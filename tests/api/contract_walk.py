"""Every GET of the OpenAPI document is asked, of lists, of some of their records and of what stands below these."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from api.edge.openapi.operations import operations

ROWS, RECORDS = 40, 2
NEEDED = {
    "chains/{designation}/tooth-form/": {"teeth": 17},
    "identify/receiving/": {"chain": "08B", "teeth": 17, "strands": 1},
    "stocking/frontier/": {"budget": 5000},
    "stocking/frontier/buys/": {"budget": 5000},
    "stocking/frontier/drives/": {"budget": 5000},
    "stocking/frontier/left-out/": {"budget": 5000},
    "work-orders/reconciliation/": {"source": "maintenance-planning", "from": "2026-11-01"},
    "positions/{tag}/exposure/": {"item": "41-0135"},
}
"""What an address cannot be asked without."""
NAMED = {"key": "stock_number"}


@dataclass(frozen=True)
class Asked:
    path: str
    """As the document has it."""
    address: str
    response: Any


class Walk:
    def __init__(self, client: Any, document: dict[str, Any], *, calculate: Any) -> None:
        self.client, self.document, self.calculate = client, document, calculate
        self.rows: dict[str, list[dict[str, Any]]] = {}

    def __iter__(self) -> Iterator[Asked]:
        paths = [path for path, method, _ in operations(self.document) if method == "get"]
        for path in sorted(paths, key=lambda one: one.count("{")):
            yield from self.ask(path)

    def ask(self, path: str) -> Iterator[Asked]:
        short = path.removeprefix("/api/v1/")
        query = dict(NEEDED.get(short, {}))
        known = {one["name"] for one in self.document["paths"][path]["get"]["parameters"]}
        if "limit" in known:
            query["limit"] = ROWS
        for address in self.addresses(path):
            response = self.get(address, query)
            if "{" not in path and response.status_code == 200:
                self.rows[path] = rows_in(response.json())
            yield Asked(path, address, response)

    def get(self, address: str, query: dict[str, Any]) -> Any:
        response = self.client.get(address, query)
        if response.status_code == 202:
            self.calculate()
            response = self.client.get(address, query)
        return response

    def addresses(self, path: str) -> Iterator[str]:
        if "{" not in path:
            yield path
            return
        rows = self.rows.get(path.partition("{")[0], [])
        for row in rows[:: max(1, len(rows) // RECORDS)][:RECORDS]:
            names = re.findall(r"{(\w+)}", path)
            values = {name: row.get(NAMED.get(name, name)) for name in names}
            if all(value is not None for value in values.values()):
                yield path.format(**{name: quote(str(value), safe="") for name, value in values.items()})


def rows_in(body: Any) -> list[dict[str, Any]]:
    found = body.get("results", []) if isinstance(body, dict) else body
    return [row for row in found if isinstance(row, dict)]
