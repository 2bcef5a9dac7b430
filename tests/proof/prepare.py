"""`python -m tests.proof.prepare`: migrates an empty database, puts 500 pieces of SPR-1 into MAIN, prints a manager's token."""

from datetime import UTC, datetime

import django
from django.core.management import call_command
from django.utils import timezone

BEFORE = datetime(2026, 3, 1, 12, tzinfo=UTC)


def main() -> None:
    django.setup()
    timezone.now = lambda: BEFORE
    call_command("migrate", verbosity=0)

    from api.models import AccessToken
    from tests import factories as make

    make.stock(make.ItemFactory(stock_number="SPR-1"), make.StoreroomFactory(), 500)
    make.StoreroomFactory(code="NORTH")
    print(AccessToken.objects.issue("the proof", role="manager")[1])


if __name__ == "__main__":
    main()
