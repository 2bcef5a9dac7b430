"""Work that a request begins and does not wait for: it is done once the answer has been sent."""

import logging
from collections.abc import Callable
from typing import Any

from rest_framework.response import Response

logger = logging.getLogger(__name__)


class AnswerThenWork(Response):
    """202 whose work begins when the server closes the answer, in the same process; no broker is needed."""

    work: Callable[[], Any] | None = None

    def close(self) -> None:
        work, self.work = self.work, None
        try:
            if work is not None:
                work()
        except Exception:
            # The answer is gone: the row that it named tells of the failure.
            logger.exception("Work begun by a request broke off.")
        finally:
            super().close()
