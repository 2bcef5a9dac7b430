"""Django's command line for this service: `manage.py` in a checkout, `chain-drive-spares` where the package is installed."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")
    # Not before the settings are named.
    from django.core.exceptions import ImproperlyConfigured  # noqa: PLC0415
    from django.core.management import execute_from_command_line  # noqa: PLC0415
    from django.db import OperationalError  # noqa: PLC0415

    from api.edge.log_lines import unless_away  # noqa: PLC0415

    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as wrong:
        sys.exit(f"Not started: {wrong}")
    except OperationalError as refused:
        if unless_away(refused):
            raise
        sys.exit(f"The database of DATABASE_URL cannot be reached: {refused}")
