"""The pages show no more than the API does."""

import pytest
from django.contrib.auth.models import Group
from django.test import Client

from api.edge.scope import limit_to
from inventory.facts import fact
from inventory.models import Recommendation
from tests.attacks.sites import HIDDEN, Site
from tests.factories import UserFactory
from tests.jobs import get_calculated

pytestmark = pytest.mark.django_db


@pytest.fixture
def wim(weir: Site, zeta: Site) -> Client:
    """A manager of the one site, logged in."""
    user = UserFactory(username="wim")
    user.groups.add(Group.objects.get_or_create(name="manager")[0])
    limit_to({"user": user}, [weir.plant], [weir.storeroom])
    client = Client()
    client.force_login(user)
    return client


@pytest.mark.parametrize(
    "address",
    [
        *(
            "/",
            "/?q=zeta-d",
            "/hits/?q=elevator",
            "/items/SPR-BOTH/",
            "/positions/WEIR-P1/",
            "/drives/WEIR-D1/",
        ),
        *(
            "/planning/",
            "/planning/accept/",
            "/planning/?show=unanswered",
            "/planning/exposure/",
            "/planning/budget/?budget=1000",
        ),
        *(f"/planning/budget/{name}/?budget=1000" for name in ("buys", "drives", "left-out")),
        *("/planning/budget.csv?budget=1000", "/planning/reorder/"),
        "/planning/duplicates/",
        "/planning/rules/?ended=1",
        *("/planning/jobs/", "/planning/buy/", "/planning/buy.csv"),
        *("/planning/settings/", "/planning/settings/items/SPR-BOTH/"),
        *(
            "/planning/figures/",
            "/planning/changes/",
            "/planning/figures/excess/",
            "/planning/figures/excess.csv",
        ),
    ],
)
def test_no_page_names_the_other_site(address: str, wim: Client) -> None:
    response = get_calculated(wim, address)
    assert response.status_code == 200
    text = b"".join(response.streaming_content) if response.streaming else response.content
    assert HIDDEN not in text.decode().replace(f'value="{HIDDEN}"', "")


@pytest.mark.parametrize(
    "address",
    ["/positions/ZETA-P1/", "/positions/zeta-p1/", "/drives/ZETA-D1/", "/drives/ZETA-D1/wear-strip/"],
)
def test_a_page_of_the_other_site_is_not_there(address: str, wim: Client) -> None:
    assert wim.get(address).status_code == 404


@pytest.mark.parametrize("address", ["/planning/{}/", "/planning/{}/events.csv"])
def test_a_recommendation_of_the_other_site_is_not_there(address: str, wim: Client, zeta: Site) -> None:
    path = address.format(zeta.keys["recommendations"])
    assert wim.get(path).status_code == 404
    assert wim.post(path, {"decision": "accept"}).status_code in (404, 405)


def test_evidence_pooled_over_plants_loses_the_names_of_the_other(
    wim: Client, weir: Site, zeta: Site
) -> None:
    Recommendation.objects.filter(pk=weir.keys["recommendations"]).update(
        evidence={"asked": [{"position": "ZETA-P1", "drive": "ZETA-D1", "work_order": "ZETA-WO"}]},
        explanation=[fact("recorded_text", text="ZETA-P1 wears faster.").as_json()],
    )
    shown = wim.get(f"/api/v1/recommendations/{weir.keys['recommendations']}/").json()
    assert shown["evidence"] == {
        "asked": [{"position": "another plant", "drive": "another plant", "work_order": None}]
    }
    assert [reason["explanation"] for reason in shown["reasons"]] == ["another plant wears faster."]
    assert HIDDEN not in str(shown["reasons"])


def test_lists_pooled_over_plants_lose_the_names_of_the_other(wim: Client, weir: Site, zeta: Site) -> None:
    Recommendation.objects.filter(pk=weir.keys["recommendations"]).update(
        evidence={"pool": {"positions": [{"position": "ZETA-P1", "drive": "ZETA-D1"}]}},
        explanation=[fact("recorded_text", text="Drive ZETA-D1 is vital.").as_json()],
    )
    (row,) = wim.get("/api/v1/recommendations/").json()["results"]
    assert [reason["explanation"] for reason in row["reasons"]] == ["Drive another plant is vital."]
    assert HIDDEN not in str(row)
    page = wim.get("/planning/").content.decode()
    assert "Drive another plant is vital." in page
    assert HIDDEN not in page
