"""Stop a loop on a signal."""

import signal
import time
from types import FrameType

LOOK_SECONDS = 0.2


class Stop:
    """A plain flag: a handler that set a `threading.Event` could meet its own thread inside that event, and hang."""

    def __init__(self) -> None:
        self.is_asked = False

    def listen(self) -> "Stop":
        """Stop on SIGTERM and SIGINT."""
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self.ask)
        return self

    def ask(self, number: int = 0, frame: FrameType | None = None) -> None:
        self.is_asked = True

    def wait(self, seconds: float) -> None:
        """Wait so long, or until a signal comes."""
        end = time.monotonic() + seconds
        while not self.is_asked and (left := end - time.monotonic()) > 0:
            time.sleep(min(LOOK_SECONDS, left))
