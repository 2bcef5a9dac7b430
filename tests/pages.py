"""Readers of the pages, logged in with the role that a page asks for."""

from django.contrib.auth.models import Group
from django.test import Client

from tests.factories import UserFactory


def signed_in(role: str, name: str = "marta") -> Client:
    client, user = Client(), UserFactory(username=name)
    user.groups.add(Group.objects.get(name=role))
    client.force_login(user)
    return client
