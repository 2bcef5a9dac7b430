"""`python -m tests.proof.prepare`: migrates an empty database, puts 500 pieces of SPR-1 into MAIN, logs a storekeeper in.

Prints the storekeeper's session and, last, a manager's token.
"""

from datetime import UTC, datetime, timedelta

import django
from django.conf import settings
from django.core.management import call_command
from django.utils import timezone

BEFORE = datetime(2026, 3, 1, 12, tzinfo=UTC)


def main() -> None:
    django.setup()
    timezone.now = lambda: BEFORE
    call_command("migrate", verbosity=0)

    from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
    from django.contrib.auth.models import Group
    from django.contrib.sessions.backends.db import SessionStore

    from api.models import AccessToken
    from tests import factories as make

    make.stock(make.ItemFactory(stock_number="SPR-1"), make.StoreroomFactory(), 500)
    make.StoreroomFactory(code="NORTH")
    marta = make.UserFactory(username="marta")
    marta.groups.add(Group.objects.get(name="storeroom"))
    session = SessionStore()
    session[SESSION_KEY], session[HASH_SESSION_KEY] = str(marta.pk), marta.get_session_auth_hash()
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session.set_expiry(timedelta(days=36_500))
    session.save()
    print(session.session_key)
    print(AccessToken.objects.issue("the proof", role="manager")[1])


if __name__ == "__main__":
    main()
