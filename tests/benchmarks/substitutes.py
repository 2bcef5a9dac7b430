"""Substitutes of a position against hand-written SQL with the same rules, over about a hundred drawn positions.

The SQL ranks by chain, rows, count, bore, keyway, greatest bore and the bushes on the shelf, adds up the stock and gives fifty rows. Both
are asked in turn, so that both feel the same load. The server of the answers over HTTP runs in a thread of this process.

It asks for no more rules than that, so the orders differ where the core also weighs style and length of the hub, its wall over the
keyseat, the pressure on the key, rating and torque at each count, the time of each step and how long a part lasted: the share of
the items shown that the SQL has on its page too is a line of its own. Whether the statement of the product ranks as the core does
is asked of pairs of a position and an item that it left out, or ranked behind the page.
"""

import http.client
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from threading import Thread
from typing import Any
from unittest.mock import patch
from wsgiref.simple_server import WSGIRequestHandler, make_server

import numpy as np
from django.contrib.auth import get_user_model
from django.db import connection
from django.test import Client
from django.utils import timezone

from drives.models import Position
from drives.substitutes.offers import TWENTY_BEST, substitutes_for_position
from drives.substitutes.position_requirement import positions_with_requirements
from inventory.catalogue.candidates import Candidate, grade_order, place_with, sprocket_of
from inventory.catalogue.ranked_shortlist import Shortlist, Shortlisted
from tests.benchmarks.measures import Measure, milliseconds, percentile

POSITIONS, SEED, MOST_BYTES = 100, 7, 200_000
PAIRS, READ = 12_000, 1_000
"""Pairs of a position and an item that was left out or ranked behind the page; of each position they are drawn from four times so many."""
ANCHOR = """
SELECT i.stock_number, i.description, i.unit_cost, f.grade, f.minutes, COALESCE(SUM(k.on_hand - k.reserved), 0) AS available,
  COALESCE(SUM(CASE WHEN k.storeroom_id = a.storeroom_id THEN k.on_hand - k.reserved ELSE 0 END), 0) AS here
FROM (
  SELECT s.id, CASE
      WHEN s.strands < d.strands OR s.chain_designation <> d.chain_designation
        OR ABS(100.0 * (s.teeth - p.teeth) / p.teeth) > COALESCE(d.ratio_tolerance_percent, 0)
        OR s.bore_mm > p.shaft_diameter_mm OR s.max_bore_mm < p.shaft_diameter_mm
        OR s.material = 'cast_iron' AND p.role = 'driver'
        OR s.bush_size <> '' AND NOT EXISTS (
          SELECT 1 FROM inventory_specification b JOIN inventory_item bi ON bi.specification_id = b.id
          JOIN inventory_stocklevel bk ON bk.item_id = bi.id AND bk.on_hand > bk.reserved AND bk.condition <> 'on_hold'
          WHERE b.kind = 'bush' AND UPPER(b.bush_size) = UPPER(s.bush_size) AND b.bore_mm = p.shaft_diameter_mm)
      THEN 3
      WHEN s.strands > d.strands OR s.teeth <> p.teeth OR s.hub_style = 'A' OR s.bore_type = '' THEN 2
      WHEN s.bush_size <> '' OR s.bore_mm < p.shaft_diameter_mm OR s.keyway_width_mm IS NULL THEN 1
      ELSE 0 END AS grade,
    CASE WHEN s.bush_size <> '' THEN 15 WHEN s.bore_type = 'plain' THEN 75 WHEN s.bore_mm < p.shaft_diameter_mm THEN 60
      ELSE 0 END AS minutes
  FROM drives_position p JOIN drives_drive d ON d.id = p.drive_id JOIN inventory_specification s ON s.kind = 'sprocket'
    AND s.pitch_mm BETWEEN d.pitch_mm - 0.03 AND d.pitch_mm + 0.03 AND s.teeth BETWEEN %(least)s AND %(most)s
  WHERE p.id = %(position)s
) f JOIN inventory_item i ON i.specification_id = f.id
JOIN drives_position p ON p.id = %(position)s JOIN drives_drive d ON d.id = p.drive_id
JOIN drives_equipment e ON e.id = d.equipment_id JOIN drives_area ar ON ar.id = e.area_id
JOIN drives_plant a ON a.id = ar.plant_id
LEFT JOIN inventory_stocklevel k ON k.item_id = i.id AND k.condition <> 'on_hold'
GROUP BY i.id, i.stock_number, i.description, i.unit_cost, f.grade, f.minutes
ORDER BY f.grade, CASE WHEN COALESCE(SUM(CASE WHEN k.storeroom_id = a.storeroom_id THEN k.on_hand - k.reserved ELSE 0 END), 0) > 0
  THEN 0 WHEN COALESCE(SUM(k.on_hand - k.reserved), 0) > 0 THEN 1 ELSE 2 END, f.minutes, i.unit_cost, i.stock_number
LIMIT 50
"""
NEVER_SCANNED = ("inventory_item", "inventory_specification", "inventory_stocklevel")


def measures() -> Iterator[Measure]:
    tags = _drawn()
    with _server() as (get, _):
        get(_address(tags[0]))
        times: dict[str, list[float]] = {"sql": [], "http": [], "process": []}
        shown: list[tuple[set[str], set[str]]] = []
        client, bodies = _client(), []
        client.get(_address(tags[0]))
        for tag in tags:
            position = Position.objects.select_related("drive").get(tag=tag)
            rows: list[Any] = []
            times["sql"].append(milliseconds(lambda place=position, found=rows: found.extend(_anchor(place))))
            times["http"].append(milliseconds(lambda name=tag: bodies.append(get(_address(name)))))
            times["process"].append(milliseconds(lambda name=tag: client.get(_address(name))))
            results = json.loads(bodies[-1])["results"]
            shown.append(({row["item"]["stock_number"] for row in results}, {row[0] for row in rows}))
    for percent, goal in ((95, 1.6), (50, 3.0)):
        sql = percentile(times["sql"], percent)
        for way, words in (("process", "in process"), ("http", "over HTTP")):
            yield Measure(
                what=f"substitutes of a position {words}, p{percent}",
                unit="ms",
                ours=percentile(times[way], percent),
                anchor=sql,
                anchor_name="SQL, same rules, LIMIT 50",
                goal=goal,
                judged="ratio",
            )
    yield Measure(
        what="substitutes of a position, greatest body",
        unit="bytes",
        ours=float(max(map(len, bodies))),
        goal=MOST_BYTES,
        judged="ours",
    )
    own = [len(ours & theirs) / len(ours) for ours, theirs in shown if ours]
    yield Measure(
        what="substitutes of a position, share that the SQL shows too",
        unit="of 1",
        ours=sum(own) / len(own),
        goal=0.5,
        judged="ours",
        at_least=True,
    )
    pairs, wrong = _disagreements(tags)
    yield Measure(
        what=f"substitutes, {pairs:,} pairs that the core ranks higher",
        unit="pairs",
        ours=float(wrong),
        goal=0,
        judged="ours",
    )
    queries, scanned = _asked(client, tags)
    yield Measure(
        what="substitutes of a position, most queries", unit="queries", ours=queries, goal=4, judged="ours"
    )
    yield Measure(
        what="substitutes of a position, scans of item and stock",
        unit="scans",
        ours=scanned,
        goal=0,
        judged="ours",
    )


def _drawn() -> list[str]:
    tags = list(Position.objects.order_by("pk").values_list("tag", flat=True))
    return list(np.random.default_rng(SEED).choice(tags, min(POSITIONS, len(tags)), replace=False))


def _address(tag: str) -> str:
    return f"/api/v1/positions/{tag}/substitutes/"


def _client() -> Client:
    user, _ = get_user_model().objects.get_or_create(
        username="benchmark", defaults={"is_superuser": True, "is_staff": True}
    )
    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(user)
    return client


def _anchor(position: Position) -> list[Any]:
    share = float(position.drive.ratio_tolerance_percent or 0) / 100
    teeth = position.teeth or 0
    with connection.cursor() as cursor:
        cursor.execute(
            ANCHOR,
            {
                "position": position.pk,
                "least": int(teeth * (1 - share)),
                "most": int(teeth / (1 - share)) + 1,
            },
        )
        return cursor.fetchall()


class _Quiet(WSGIRequestHandler):
    protocol_version = "HTTP/1.1"

    def log_message(self, *_: Any) -> None:
        pass


@contextmanager
def _server() -> Iterator[tuple[Callable[[str], bytes], int]]:
    # The application as it is served; it sets Django up, so it is imported after the settings are known.
    application = import_module("api.wsgi").application
    cookie = _client().cookies.output(header="", sep=";").split(";")[0].strip()
    server = make_server("127.0.0.1", 0, application, handler_class=_Quiet)
    Thread(target=server.serve_forever, daemon=True).start()
    port = server.server_address[1]

    def get(address: str) -> bytes:
        caller = http.client.HTTPConnection("127.0.0.1", port)
        caller.request("GET", address, headers={"Cookie": cookie, "Accept": "application/json"})
        answer = caller.getresponse()
        body = answer.read()
        caller.close()
        if answer.status != 200:
            raise SystemExit(f"{address} answered {answer.status}: nothing was measured.")
        return body

    try:
        yield get, port
    finally:
        server.shutdown()


def _disagreements(tags: list[str]) -> tuple[int, int]:
    """Pairs that were not judged for the page, and those of them that the core would place before its last result."""
    dice, pairs, wrong, each = np.random.default_rng(SEED), 0, 0, -(-PAIRS // len(tags))
    read = Shortlist.read
    for tag in tags:
        listings: list[Shortlist] = []

        def note(listing: Shortlist, first: int, kept: list[Shortlist] = listings) -> Shortlisted:
            kept.append(listing)
            return read(listing, first)

        place = positions_with_requirements().get(tag=tag)
        with patch.object(Shortlist, "read", note):
            answer = substitutes_for_position(place, here_id=None, at=timezone.now())
        (listing,), order = listings, grade_order(place.drive.equipment.area.plant.storeroom_id)
        judged = {offer.candidate.item.stock_number for offer in answer.offers}
        rest = [row for row in listing.read(READ).placed if row.stock_number not in judged]
        if not rest:
            continue
        last = order(answer.offers[: TWENTY_BEST.count][-1].candidate)
        for row in (rest[at] for at in dice.choice(len(rest), min(each, len(rest)), replace=False)):
            offered = sprocket_of(row.item)
            found = place_with(Candidate(row.item, offered, listing.judge(offered), ()), row.nearness)
            pairs, wrong = pairs + 1, wrong + (found < last)
    return pairs, wrong


def _asked(client: Client, tags: list[str]) -> tuple[float, float]:
    """The most statements of one answer without those that say who asks, and how many plans read a whole table."""
    most, plans = 0, set()
    for tag in tags[:20]:
        statements: list[tuple[str, Any]] = []

        def note(
            execute: Any, sql: str, parameters: Any, many: bool, context: Any, kept: Any = statements
        ) -> Any:
            kept.append((sql, parameters))
            return execute(sql, parameters, many, context)

        with connection.execute_wrapper(note):
            client.get(_address(tag))
        own = [one for one in statements if "django_session" not in one[0] and "auth_user" not in one[0]]
        most = max(most, len(own))
        plans |= {line for sql, parameters in own for line in _scans(sql, parameters)}
    return float(most), float(len(plans))


def _scans(sql: str, parameters: Any) -> Iterator[str]:
    explain = "EXPLAIN QUERY PLAN " if connection.vendor == "sqlite" else "EXPLAIN (FORMAT JSON) "
    with connection.cursor() as cursor:
        cursor.execute(explain + sql, parameters)
        rows = cursor.fetchall()
    if connection.vendor == "sqlite":
        aliases = {"i", "s", "k", *NEVER_SCANNED}
        yield from (
            f"{row[3]}" for row in rows if row[3].startswith("SCAN ") and row[3].split()[1] in aliases
        )
        return
    found = rows[0][0] if isinstance(rows[0][0], list) else json.loads(rows[0][0])
    yield from (one for one in _sequential(found[0]["Plan"]) if one in NEVER_SCANNED)


def _sequential(plan: dict[str, Any]) -> Iterator[str]:
    if plan["Node Type"] == "Seq Scan":
        yield plan["Relation Name"]
    for part in plan.get("Plans", ()):
        yield from _sequential(part)
