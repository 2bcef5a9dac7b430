"""Attacks 1 to 5: another site's rows, by address, by filter, by body, in bulk; what a role may not do."""

import re
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.urls import URLPattern, get_resolver
from django.utils import timezone
from rest_framework.test import APIClient

from api.edge.scope import limit_to
from api.models import AccessToken
from drives.demand.cover_refresh import refresh_cover
from drives.demand.recompute import recompute
from drives.models import Cover, Position, WorkOrder
from inventory.models import Item, Recommendation, StockEntry, StockingRun, StockPolicy, SupplyOrder
from tests.api.records import change, errors, post
from tests.attacks.sites import API, HIDDEN, WEIR, Site, caller_at, client_of
from tests.factories import TransferTimeFactory, UserFactory
from tests.jobs import get_calculated, run_queued_jobs

pytestmark = pytest.mark.django_db


def routes(patterns: Any, before: str = "") -> list[str]:
    found = []
    for one in patterns:
        if isinstance(one, URLPattern):
            found.append(before + str(one.pattern))
        else:
            found += routes(one.url_patterns, before + str(one.pattern))
    return found


def api_routes() -> list[str]:
    every = [route.replace("^", "").removesuffix("$") for route in routes(get_resolver().url_patterns)]
    return sorted({route for route in every if route.startswith("api/v1/")} - {"api/v1/schema/"})


PARAMETER = re.compile(r"\(\?P<\w+>[^)]*\)|<\w+:\w+>")
LISTS = [route for route in api_routes() if not PARAMETER.search(route)]
BELOW = [route for route in api_routes() if PARAMETER.search(route)]


ASKED = {
    **{route: "?budget=1000" for route in LISTS if "frontier" in route},
    "api/v1/identify/receiving/": "?chain=08B&strands=1&teeth=17",
}
"""What an answer needs to be asked."""


@pytest.mark.parametrize("route", LISTS)
def test_01_no_list_shows_a_row_of_the_other_site(
    route: str, at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    address = f"/{route}{ASKED.get(route, '')}"
    # A page leads a caller without a session to the log-in.
    is_page = at_weir.get(address).status_code == 302
    response = at_weir.get(address) if is_page else get_calculated(at_weir, address)
    assert response.status_code in (200, 302, 403, 405)
    assert HIDDEN not in response.content.decode()


def test_01_sites_that_share_a_dear_part_show_nothing_of_each_other(
    at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    for begin, end in ((weir, zeta), (zeta, weir)):
        TransferTimeFactory(from_storeroom=begin.storeroom, to_storeroom=end.storeroom, minutes=6)
    Item.objects.update(unit_cost=90_000, lead_time_days=90)
    Recommendation.objects.all().delete()
    StockingRun.objects.all().delete()
    refresh_cover()
    recompute(as_of=timezone.now(), by="test", is_full=True)
    kept_in = Recommendation.objects.current().exclude(evidence__kept_in=None)
    assert {one.evidence["kept_in"]["storeroom"] for one in kept_in} in ({WEIR}, {HIDDEN})
    answers = [
        get_calculated(at_weir, f"{API}stocking/frontier/?budget=100000"),
        get_calculated(at_weir, f"{API}exposure/"),
        at_weir.get(f"{API}recommendations/"),
        at_weir.get(f"{API}reorder-list/"),
        *(
            at_weir.get(f"{API}recommendations/{one.pk}/")
            for one in Recommendation.objects.current().filter(storeroom=weir.storeroom)
        ),
    ]
    assert len(answers) > 4
    for answer in answers:
        assert answer.status_code == 200
        assert HIDDEN not in answer.content.decode(), answer.request["PATH_INFO"]


def test_01_the_lists_do_show_the_own_site(at_weir: APIClient, weir: Site, zeta: Site) -> None:
    shown = {name: len(at_weir.get(f"{API}{name}/").json()["results"]) for name in weir.keys}
    assert {name for name, count in shown.items() if count == 0} <= {"transfer-times"}


def test_01_every_record_with_a_site_is_tried(weir: Site) -> None:
    """A resource that comes later has to be added to the sites, or named here as common to all."""
    common = {
        *(
            "specifications",
            "items",
            "machine-shops",
            "shop-times",
            "rules",
            "service-targets",
            "source-answers",
            "run-downs",
        ),
        "demand-settings",
        "figures",
        *("docs", "feeds"),
        *("webhooks", "imports", "stocking", "chains", "code-words", "inbound-messages", "jobs"),
    }
    lists = {route.split("/")[2] for route in BELOW}
    assert lists - set(weir.keys) - common == set()


@pytest.mark.parametrize(
    "below",
    [
        "positions/ZETA-P1/substitutes/",
        "drives/ZETA-D1/substitute-pairs/",
        "items/SPR-BOTH/movements/?storeroom=ZETA",
        "items/SPR-BOTH/substitutes/",
    ],
)
def test_02_no_answer_below_a_record_tells_of_the_other_site(
    below: str, at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    response = at_weir.get(f"{API}{below}")
    assert response.status_code in (200, 404)
    assert HIDDEN not in response.content.decode().replace(below.rstrip("/"), "")
    if "movements" in below:
        assert response.json()["results"] == []


@pytest.mark.parametrize("act", ["accept", "amend", "decline"])
def test_02_no_recommendation_of_the_other_site_is_decided(
    act: str, at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    body = {"reorder_point": 0, "order_up_to": 1, "reason": "x"} if act == "amend" else {}
    body = {"reason": "x"} if act == "decline" else body
    path = f"{API}recommendations/{zeta.keys['recommendations']}/{act}/"
    assert at_weir.post(path, body).status_code == 404


@pytest.mark.parametrize(
    ("act", "body"),
    [
        ("reservations/{reservations}/release/", {}),
        (
            "installations/{installations}/remove/",
            {"removed_at": "2025-01-01T00:00:00Z", "ended_by": "failure"},
        ),
        ("requests/{requests}/retract/", {}),
        ("movements/{movements}/reverse/", {"reason": "wrong"}),
    ],
)
def test_02_no_act_reaches_the_other_site(
    act: str, body: Any, clerk_at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    assert post(clerk_at_weir, API + act.format(**zeta.keys), body).status_code == 404


@pytest.mark.parametrize(
    "query",
    [
        *("stock/?storeroom=ZETA", "movements/?storeroom=ZETA", "movements/?to_storeroom=ZETA"),
        *("reservations/?work_order=ZETA-WO", "requests/?q=ZETA", "stock-policies/?storeroom=ZETA"),
        *("positions/?q=ZETA", "drives/?q=ZETA", "equipment/?q=ZETA", "plants/?q=ZETA", "storerooms/?q=ZETA"),
        *("recommendations/?storeroom=ZETA", "supply-orders/?source=ZETA", "changes/?key=ZETA"),
        *("items/?storeroom=ZETA", "items/?storeroom=ZETA&in_stock=true", "installations/?position=ZETA-P1"),
    ],
)
def test_02_a_filter_by_the_other_site_finds_nothing(
    query: str, at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    response = at_weir.get(API + query)
    assert response.status_code == 200
    assert response.json()["results"] == []


def test_02_totals_of_an_item_count_the_own_storerooms(at_weir: APIClient, weir: Site, zeta: Site) -> None:
    shown = at_weir.get(f"{API}items/SPR-BOTH/").json()
    assert (shown["on_hand"], shown["reserved"], shown["available"]) == (7, 2, 5)
    assert at_weir.get(f"{API}items/?on_hand=14").status_code == 400
    assert at_weir.get(f"{API}stock/?item=SPR-BOTH&on_hand__gte=8").json()["results"] == []


def test_02_substitutes_count_the_own_shelves(at_weir: APIClient, weir: Site, zeta: Site) -> None:
    found = at_weir.get(f"{API}positions/WEIR-P1/substitutes/").json()["results"]
    assert [shelf["storeroom"] for offer in found for shelf in offer["stock"]] == [WEIR]


def test_02_who_else_is_exposed_names_no_position_of_the_other_site(
    at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    for position in Position.objects.all():
        Cover.objects.create(
            position=position, item=Item.objects.get(stock_number="SPR-BOTH"), grade="drop_in"
        )
    (row,) = at_weir.get(f"{API}positions/WEIR-P1/exposure/?item=SPR-BOTH").json()["results"]
    assert HIDDEN not in str(row)
    assert at_weir.get(f"{API}positions/ZETA-P1/exposure/?item=SPR-BOTH").status_code == 404


@pytest.mark.parametrize("answer", ["reorder-list/", "exposure/", "positions/WEIR-P1/substitutes/"])
def test_02_a_storeroom_out_of_reach_is_as_unknown_as_one_that_is_not(
    answer: str, at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    hidden, missing = (at_weir.get(f"{API}{answer}?storeroom={code}") for code in (HIDDEN, "NONE"))
    assert hidden.status_code == missing.status_code == 400
    assert hidden.json()["detail"].replace(HIDDEN, "NONE") == missing.json()["detail"]


@pytest.mark.parametrize(
    ("resource", "member", "body", "missing"),
    [
        ("movements", "storeroom", {"kind": "issue", "item": "SPR-BOTH", "quantity": 1}, "NONE"),
        (
            "movements",
            "to_storeroom",
            {"kind": "transfer", "item": "SPR-BOTH", "quantity": 1, "storeroom": WEIR},
            "NONE",
        ),
        ("reservations", "storeroom", {"item": "SPR-BOTH", "quantity": 1, "work_order": "W"}, "NONE"),
        ("requests", "storeroom", {"item": "SPR-BOTH", "result": "not_filled"}, "NONE"),
        ("inspections", "position", {"at": "2024-03-05T06:30:00Z", "elongation_percent": 1}, "NONE"),
        ("installations", "position", {"item": "SPR-BOTH", "installed_at": "2024-03-05T06:30:00Z"}, "NONE"),
    ],
)
def test_03_a_body_that_names_the_other_site_names_nothing(
    resource: str,
    member: str,
    body: dict[str, Any],
    missing: str,
    clerk_at_weir: APIClient,
    weir: Site,
    zeta: Site,
) -> None:
    before = StockEntry.objects.count()
    hidden = "ZETA-P1" if member == "position" else HIDDEN
    refused, unknown = (
        post(clerk_at_weir, f"{API}{resource}/", body | {member: code}, code) for code in (hidden, missing)
    )
    assert refused.status_code == unknown.status_code == 400
    assert errors(refused)[f"/{member}"].replace(hidden, missing) == errors(unknown)[f"/{member}"]
    assert StockEntry.objects.count() == before


def test_03_an_id_of_the_other_site_names_nothing_either(
    clerk_at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    body = {"kind": "issue", "item": "SPR-BOTH", "quantity": 1, "storeroom": zeta.storeroom.pk}
    assert "/storeroom" in errors(post(clerk_at_weir, f"{API}movements/", body))


def test_03_a_check_of_the_other_sites_position_finds_none(
    at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    body = {"required": {"position": "ZETA-P1"}, "offered": {"item": "SPR-BOTH"}}
    other = body | {"required": {"position": "NONE"}}
    refused, unknown = (at_weir.post(f"{API}interchange/check/", one) for one in (body, other))
    assert refused.status_code == unknown.status_code == 400
    assert refused.json()["detail"].replace("ZETA-P1", "NONE") == unknown.json()["detail"]


def test_03_an_upsert_does_not_take_over_an_order_of_the_other_site(weir: Site, zeta: Site) -> None:
    body = {
        "item": "SPR-BOTH",
        "storeroom": WEIR,
        "quantity": 9,
        "ordered_at": "2025-03-04T06:30:00Z",
        "updated_at": "2026-01-01T00:00:00Z",
    }
    client = caller_at(weir, "integration")
    assert client.put(f"{API}supply-orders/ZETA/1/", body).status_code == 409
    assert SupplyOrder.objects.get(source="ZETA").storeroom == zeta.storeroom


@pytest.mark.parametrize("resource", ["plants", "storerooms"])
@pytest.mark.parametrize("body", [{"name": "Kilns"}, {}])
def test_03_a_code_of_the_other_site_is_refused_as_a_free_one(
    resource: str, body: dict[str, str], weir: Site, zeta: Site
) -> None:
    client = caller_at(weir, "manager")
    taken, free = (
        post(client, f"{API}{resource}/", body | {"code": code}, code) for code in (HIDDEN, "FREE")
    )
    assert taken.status_code == free.status_code == 403
    assert taken.json()["detail"] == free.json()["detail"]


@pytest.mark.parametrize("resource", ["supply-orders", "work-orders", "meter-readings"])
def test_03_a_bad_message_about_the_other_sites_record_is_refused_as_about_none(
    resource: str, weir: Site, zeta: Site
) -> None:
    client = caller_at(weir, "integration")
    hidden, missing = (client.put(f"{API}{resource}/{source}/1/", {}) for source in (HIDDEN, "NONE"))
    assert hidden.status_code == missing.status_code == 400
    assert hidden.json()["errors"] == missing.json()["errors"]


def test_03_a_message_does_not_take_over_a_job_of_the_other_site(weir: Site, zeta: Site) -> None:
    body = {"title": "taken over", "status": "cancelled", "updated_at": "2026-01-01T00:00:00Z"}
    client = caller_at(weir, "integration")
    assert client.put(f"{API}work-orders/ZETA/1/", body).status_code == 409
    batch = {"messages": [body | {"source": "ZETA", "external_id": "1"}]}
    assert client.post(f"{API}work-orders/bulk/", batch).json()["results"][0]["errors"]
    assert WorkOrder.objects.get(source="ZETA").title == "ZETA job"


def test_03_nothing_is_moved_over_to_the_other_site(at_weir: APIClient, weir: Site, zeta: Site) -> None:
    assert change(at_weir, f"{API}drives/WEIR-D1/", {"equipment": "ZETA-EL1"}).status_code == 400
    assert change(at_weir, f"{API}plants/WEIR/", {"storeroom": HIDDEN}).status_code == 400


@pytest.mark.parametrize("resource", ["plants", "storerooms"])
def test_03_who_reaches_named_places_makes_no_new_ones(resource: str, at_weir: APIClient) -> None:
    response = at_weir.post(f"{API}{resource}/", {"code": "NEW", "name": "New"})
    assert response.status_code == 403
    assert at_weir.get(f"{API}{resource}/NEW/").status_code == 404


def send(client: APIClient, kind: str, text: str) -> dict[str, Any]:
    response = client.generic("POST", f"{API}imports/?kind={kind}", text, content_type="text/csv")
    assert response.status_code == 202, response.content
    run_queued_jobs()
    return dict(client.get(response["Location"]).json())


def test_04_a_file_with_rows_of_both_sites_books_none(
    clerk_at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    rows = "kind,item,storeroom,quantity,occurred_at,reference\n" + "".join(
        f"issue,SPR-BOTH,{code},1,2025-03-04T06:30:00Z,{code}-1\n" for code in (WEIR, HIDDEN)
    )
    before = StockEntry.objects.count()
    result = send(clerk_at_weir, "movements", rows)
    assert result["rejected"] == 1
    assert not result["written"]
    assert StockEntry.objects.count() == before


def test_04_a_file_does_not_write_over_the_other_site(at_weir: APIClient, weir: Site, zeta: Site) -> None:
    rows = "tag,drive,role,name\nZETA-P1,WEIR-D1,driven,taken over\nWEIR-P1,WEIR-D1,driver,ours\n"
    result = send(at_weir, "positions", rows)
    assert result["rejected"] == 1
    assert Position.objects.get(tag="ZETA-P1").drive.tag == "ZETA-D1"
    policies = "item,storeroom,reorder_point,order_up_to\nSPR-BOTH,ZETA,1,2\n"
    assert send(at_weir, "stock-policies", policies)["rejected"] == 1
    assert StockPolicy.objects.get(storeroom__code=HIDDEN).order_up_to == 60


def test_04_a_file_of_messages_takes_over_no_job_and_names_no_place_of_the_other_site(
    weir: Site, zeta: Site
) -> None:
    client, at = caller_at(weir, "integration"), "2026-01-01T00:00:00Z"
    rows = f"source,external_id,title,status,position,updated_at\nZETA,1,taken over,open,,{at}\nW,1,x,open,ZETA-P1,{at}\n"
    assert send(client, "work-orders", rows)["rejected"] == 2
    readings = f"source,external_id,position,at,hours,updated_at\nZETA,1,WEIR-P1,{at},7,{at}\n"
    assert send(client, "meter-readings", readings)["rejected"] == 1
    assert (WorkOrder.objects.get(source="ZETA").title, WorkOrder.objects.count()) == ("ZETA job", 2)


def test_04_a_file_makes_no_plant_for_who_reaches_named_ones(at_weir: APIClient) -> None:
    assert send(at_weir, "plants", "code,name\nNEW,New maltings\n")["rejected"] == 1


def test_04_imports_are_shown_to_who_sent_them(at_weir: APIClient, weir: Site, zeta: Site) -> None:
    send(caller_at(zeta), "positions", "tag,drive,role,name\nZETA-P2,ZETA-D1,driven,next\n")
    assert at_weir.get(f"{API}imports/").json()["results"] == []


def test_what_blocks_a_deletion_at_the_other_site_is_not_named(
    at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    response = at_weir.delete(f"{API}items/SPR-BOTH/", HTTP_IF_MATCH="*")
    assert response.status_code == 409
    assert response.json()["blockers"]
    assert HIDDEN not in response.content.decode()


@pytest.mark.parametrize("role", ["storeroom", "viewer", "integration"])
def test_05_only_a_manager_sets_a_reorder_point(role: str, weir: Site) -> None:
    client = caller_at(weir, role)
    path = f"{API}stock-policies/{weir.keys['stock-policies']}/"
    assert change(client, path, {"order_up_to": 99}).status_code == 403
    assert client.post(f"{API}stock-policies/", {}).status_code == 403
    assert client.post(f"{API}recommendations/{weir.keys['recommendations']}/accept/", {}).status_code == 403
    assert StockPolicy.objects.get(pk=weir.keys["stock-policies"]).order_up_to == 60


def test_reach_of_the_user_binds_the_users_token_too(weir: Site, zeta: Site) -> None:
    user = UserFactory(username="wim")
    user.groups.add(Group.objects.get_or_create(name="manager")[0])
    limit_to({"user": user}, [weir.plant], [weir.storeroom])
    client = client_of(*AccessToken.objects.issue("wims", role="manager", user=user))
    assert client.get(f"{API}plants/{HIDDEN}/").status_code == 404
    token, secret = AccessToken.objects.issue("wims other", role="manager", user=user)
    limit_to({"token": token}, [zeta.plant], [zeta.storeroom])
    nowhere = client_of(token, secret)
    assert nowhere.get(f"{API}plants/").json()["results"] == []
