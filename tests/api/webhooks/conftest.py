from collections.abc import Iterator
from typing import Any

import pytest

from tests.api.webhooks.receiver import Receiver, receiving


@pytest.fixture
def receiver(settings: Any) -> Iterator[Receiver]:
    """Allowed by the operator, as one inside the plant would be."""
    with receiving() as found:
        settings.WEBHOOK_ALLOW_HTTP = True
        settings.WEBHOOK_PORTS = [found.port]
        settings.WEBHOOK_ALLOWED_HOSTS = ["127.0.0.1"]
        yield found
