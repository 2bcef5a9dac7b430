"""The line that reports an act on the next page, once for each act."""

from django.contrib import messages
from django.contrib.messages.storage.base import BaseStorage
from django.http import HttpRequest


def report(request: HttpRequest, said: str, undone_by: str = "", *, first_said: str = "") -> None:
    """Nothing more where the line of the first sending still waits to be read: by what undoes it, else by what it says.

    `first_said` is that line, where the one of a repeat has other words.
    """
    waiting = messages.get_messages(request)
    known = {one.extra_tags or one.message for one in waiting}
    if isinstance(waiting, BaseStorage):
        waiting.used = False  # The page that shows them takes them out.
    if (undone_by or first_said or said) not in known:
        messages.success(request, said, extra_tags=undone_by)
