"""`python -m tests.proof.prepare`: migrates an empty database, puts 500 pieces of SPR-1 into MAIN, prints a manager's token."""

import django
from django.core.management import call_command


def main() -> None:
    django.setup()
    call_command("migrate", verbosity=0)

    from api.models import AccessToken
    from tests import factories as make

    make.stock(make.ItemFactory(stock_number="SPR-1"), make.StoreroomFactory(), 500)
    make.StoreroomFactory(code="NORTH")
    print(AccessToken.objects.issue("the proof", role="manager")[1])


if __name__ == "__main__":
    main()
