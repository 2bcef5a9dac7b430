import pytest
from django.test import Client
from django.urls import reverse

from api.models import Change
from drives.models import SubstitutionRule
from tests.factories import (
    AdminFactory,
    InstallationFactory,
    ItemFactory,
    PositionFactory,
    SprocketFactory,
    StoreroomFactory,
    UserFactory,
    stock,
)

pytestmark = pytest.mark.django_db
ADDRESS = "/planning/rules/"


@pytest.fixture
def chief():
    client = Client()
    client.force_login(AdminFactory())
    return client


@pytest.fixture
def place():
    found = PositionFactory(hardened_teeth=True, tag="STEEP-P1")
    for number, hardened in (("SPR-A", True), ("SPR-B", False)):
        item = ItemFactory(stock_number=number, specification=SprocketFactory(hardened_teeth=hardened))
        stock(item, StoreroomFactory(), 1)
        if hardened:
            InstallationFactory(position=found, item=item)
    return found


def body(**changes):
    given = {"kind": "replaces", "item": "SPR-B", "instead_of": "SPR-A", "position": "STEEP-P1"}
    return {**given, "reason": "ran two seasons", "given_by": "Ines Okafor", **changes}


def text_of(answer):
    refused = 409 if answer.request["REQUEST_METHOD"] == "POST" else 200
    assert answer.status_code == refused, answer.content
    return " ".join(answer.content.decode().split())


def test_a_rule_is_given_from_a_candidate_shown_there_and_withdrawn(chief, place):
    page = reverse("screens:position", args=[place.tag])
    before = text_of(chief.get(page))
    link = f"{ADDRESS}?kind=replaces&amp;item=SPR-B&amp;instead_of=SPR-A&amp;position=STEEP-P1#give"
    assert link in before
    form = text_of(chief.get(link.replace("&amp;", "&").partition("#")[0]))
    assert 'name="item" value="SPR-B"' in form
    assert [chief.post(ADDRESS, {**body(), "key": "k"}).status_code for _ in range(2)] == [302, 302]
    rule = SubstitutionRule.objects.get()
    given = text_of(chief.get(page))
    assert "SPR-B replaces SPR-A here. Ines Okafor decided so from" in given
    assert f'name="act" value="substitution-rule-withdraw:{rule.pk}"' in given
    assert "ran two seasons" in text_of(chief.get(ADDRESS))
    assert "Say why" in text_of(chief.post(ADDRESS, {"rule": rule.pk, "reason": " "}))
    assert chief.post(ADDRESS, {"rule": rule.pk, "reason": "teeth wore"}).status_code == 302
    assert "No rule is in force." in text_of(chief.get(ADDRESS))
    assert "teeth wore" in text_of(chief.get(ADDRESS, {"ended": "1"}))
    assert text_of(chief.get(page)).count("decided so") == 0
    assert Change.objects.filter(record="drives.substitutionrule").count() == 2
    chief.post(ADDRESS, body())
    newest = SubstitutionRule.objects.latest("pk")
    chief.post("/counter/undo/", {"act": f"substitution-rule-withdraw:{newest.pk}", "key": "k"})
    assert not SubstitutionRule.objects.filter(withdrawn_at=None).exists()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"instead_of": "SPR-B"}, "instead_of"),
        ({"kind": "x"}, "kind"),
        ({"item": ""}, "item"),
        ({"item": "SPR-\x00"}, "item"),
        ({"position": "NONE"}, "position"),
        ({"valid_until": "2026-02-31"}, "valid_until"),
        ({"valid_until": "2020-01-01"}, "valid_until"),
        ({"reason": ""}, "reason"),
        ({"given_by": ""}, "given_by"),
    ],
)
def test_a_fault_names_its_field_and_keeps_what_was_typed(chief, place, changes, field):
    text = text_of(chief.post(ADDRESS, body(**changes)))
    assert f'<a href="#{field}">' in text
    assert changes.get("position", "STEEP-P1") in text
    assert not SubstitutionRule.objects.exists()


def test_who_may_not_decide_reads_without_a_form(place):
    client = Client()
    client.force_login(UserFactory())
    assert 'name="kind"' not in text_of(client.get(ADDRESS))
    assert "Rule: never here" not in text_of(client.get(reverse("screens:position", args=[place.tag])))
    assert client.post(ADDRESS, body()).status_code == 403
    assert not SubstitutionRule.objects.exists()
