"""Django's command line for this service: `manage.py` in a checkout, `chain-drive-spares` where the package is installed."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")
    from django.core.management import execute_from_command_line  # noqa: PLC0415 - the settings are named before

    execute_from_command_line(sys.argv)
