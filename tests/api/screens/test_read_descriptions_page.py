import pytest
from django.contrib.auth.models import Permission
from django.urls import reverse

from api.models import Change
from inventory.models import Item
from tests.admin_pages import INLINE
from tests.factories import AdminFactory, ItemFactory, SprocketFactory, UserFactory

pytestmark = pytest.mark.django_db
ADDRESS = reverse("admin:inventory_item_changelist")


@pytest.fixture
def ines(client):
    client.force_login(AdminFactory())
    return client


def dirty_item(description="SPKT D60B20 1-7/16 KW 3/8 2SS", **given):
    return ItemFactory(description=description, specification=None, **given)


def choose(client, *items, **more):
    form = {"action": "read_descriptions", "_selected_action": [item.pk for item in items], **more}
    return client.post(ADDRESS, form)


def test_the_proposal_is_shown_and_nothing_is_written(ines):
    item = dirty_item()

    page = choose(ines, item)

    text = page.content.decode()
    assert page.status_code == 200
    assert "36.5125" in text
    assert "“D60B20”" in text
    assert INLINE.search(text) is None
    assert Item.objects.get().specification is None


def test_it_is_written_after_confirmation_and_logged(ines):
    item = dirty_item(note="Bin was relabelled.")
    shown = choose(ines, item).context["shown"]

    choose(ines, item, shown=shown, confirmed="yes")

    item.refresh_from_db()
    specification = item.specification
    assert (specification.chain_designation, specification.strands, specification.teeth) == ("12A", 2, 20)
    assert (specification.hub_style, specification.bore_type, specification.set_screws) == (
        "B",
        "finished",
        2,
    )
    assert item.note.startswith("Bin was relabelled.\nRead from the description on ")
    assert "teeth (stated: D60B20)" in item.note
    assert {(one.record, one.action, one.by_name) for one in Change.objects.all()} == {
        ("inventory.item", "change", "ines"),
        ("inventory.specification", "create", "ines"),
    }


def test_what_changed_in_between_is_shown_again(ines):
    item = dirty_item()
    shown = choose(ines, item).context["shown"]
    Item.objects.update(description="SPKT D60B21 1-7/16 KW 3/8 2SS")

    page = choose(ines, item, shown=shown, confirmed="yes")

    assert "please look again" in page.content.decode()
    assert Item.objects.get().specification is None


def test_a_doubt_is_shown_as_a_question_and_there_is_nothing_to_confirm(ines):
    page = choose(ines, dirty_item("CHAIN WHEEL 1/2 X 5/16 25T"))

    assert "fits several chains: 08B and 40" in page.content.decode()
    assert 'name="confirmed"' not in page.content.decode()


def test_a_recorded_value_is_never_changed(ines):
    item = ItemFactory(description="SPROCKET 08B-1 Z19", specification=SprocketFactory(teeth=17))

    page = choose(ines, item)
    choose(ines, item, shown=page.context["shown"], confirmed="yes")

    item.specification.refresh_from_db()
    assert item.specification.teeth == 17
    assert "says something else" in page.content.decode()


def test_more_than_two_hundred_are_left_to_the_command(ines):
    items = Item.objects.bulk_create(Item(stock_number=f"X-{n}", description="SPKT") for n in range(201))

    page = choose(ines, *items)

    assert page.status_code == 302


def test_who_may_not_change_specifications_has_no_such_action(client):
    clerk = UserFactory(is_staff=True)
    clerk.user_permissions.add(*Permission.objects.filter(codename__in=["view_item", "change_item"]))
    client.force_login(clerk)
    item = dirty_item()

    choose(client, item, confirmed="yes")

    assert Item.objects.get().specification is None
