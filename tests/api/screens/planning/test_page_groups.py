"""Every page of stock planning stands in one group, and says in which."""

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.auth.models import Group
from django.test import Client
from django.urls import reverse

from api.screens.planning.page_groups import GROUPS
from tests.factories import UserFactory

TEMPLATES = Path(settings.BASE_DIR) / "api" / "screens" / "templates" / "planning"
NAMES = [name for group in GROUPS for name, _ in group.pages]


def test_every_page_that_shows_the_groups_stands_in_one_of_them_once() -> None:
    found = [
        name
        for file in sorted(TEMPLATES.glob("*.html"))
        for name in re.findall(r'{% planning_tabs "([^"]+)" %}', file.read_text("utf-8"))
    ]
    assert sorted(NAMES) == sorted(found)


@pytest.mark.django_db
@pytest.mark.parametrize("name", NAMES)
def test_a_page_shows_the_groups_and_the_pages_of_its_own(name: str) -> None:
    client, user = Client(), UserFactory()
    user.groups.add(Group.objects.get(name="manager"))
    client.force_login(user)
    text = client.get(reverse(name)).content.decode()
    nav = text[text.index('<nav class="planning-pages') :].partition("</nav>")[0]
    groups, _, rest = nav.partition('<p class="tabs')
    pages, _, every = rest.partition("<details")
    own = next(group for group in GROUPS if group.label_of(name))
    help_page = f"{reverse('screens:help')}#group-planning"
    addresses = [reverse(group.first) for group in GROUPS]
    assert re.findall(r'href="([^"]+)"', groups) == [*addresses, help_page]
    assert re.findall(r'<a href="([^"]+)" aria-current="true">', groups) == [reverse(own.first)]
    assert re.findall(r'href="([^"]+)"', pages) == [reverse(one) for one, _ in own.pages]
    for part in (pages, every):
        assert re.findall(r'href="([^"]+)" aria-current="page"', part) == [reverse(name)]
    assert len(re.findall("<li>", every)) == len(NAMES)
