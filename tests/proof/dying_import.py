"""`python -m tests.proof.dying_import N KIND FILE`: an import that dies by SIGKILL at its Nth writing statement."""

import os
import signal
import sys
from collections.abc import Callable
from itertools import count
from typing import Any

import django


def main(most: int, kind: str, path: str) -> None:
    django.setup()
    from django.core.management import call_command
    from django.db import connection

    written = count(1)

    def die_at_the_last(execute: Callable[..., Any], sql: str, *details: Any) -> Any:
        if sql.startswith(("INSERT", "UPDATE")) and next(written) == most:
            os.kill(os.getpid(), signal.SIGKILL)
        return execute(sql, *details)

    with connection.execute_wrapper(die_at_the_last):
        call_command("import_records", kind, path)


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2], sys.argv[3])
