"""Which recommendations are asked for: read from the address, what is not understood is said and left out."""

from dataclasses import dataclass, replace
from urllib.parse import urlencode

from django.http import QueryDict

from api.screens.planning.planning_filters import IMPORTANCES, MODELS
from inventory.models import Storeroom

SHOWS = {"waiting": "What waits", "unanswered": "What needs an entry first", "decided": "What was decided"}
LARGEST_PAGE = 100_000


@dataclass(frozen=True)
class ListFilters:
    """`faults` pairs a field with what is wrong with it."""

    storeroom: str = ""
    importance: str = ""
    model: str = ""
    show: str = "waiting"
    page: int = 1
    faults: tuple[tuple[str, str], ...] = ()

    def address(self, **changes: object) -> str:
        """The same choice with something changed, as the end of an address."""
        asked = replace(self, **changes)  # type: ignore[arg-type]
        fields = {
            "storeroom": asked.storeroom,
            "importance": asked.importance,
            "model": asked.model,
            "show": "" if asked.show == "waiting" else asked.show,
            "page": "" if asked.page == 1 else str(asked.page),
        }
        return "?" + urlencode({name: value for name, value in fields.items() if value})

    @property
    def is_narrowed(self) -> bool:
        return bool(self.storeroom or self.importance or self.model)

    @property
    def ways(self) -> list[tuple[str, str, bool]]:
        """Words, address and whether it is shown now."""
        return [(words, self.address(show=show, page=1), show == self.show) for show, words in SHOWS.items()]


def list_filters_of(query: QueryDict, storerooms: list[Storeroom]) -> ListFilters:
    rooms = {room.code for room in storerooms}
    known = {"storeroom": rooms, "importance": set(IMPORTANCES), "model": set(MODELS), "show": set(SHOWS)}
    asked = {name: query.get(name, "").strip() for name in known}
    faults = tuple(
        (name, f"There is no such {'basis' if name == 'model' else name}: choose one of the list.")
        for name, words in known.items()
        if asked[name] and asked[name] not in words
    )
    right = {name: value for name, value in asked.items() if value in known[name]}
    return ListFilters(**right, page=_page(query.get("page", "")), faults=faults)


def _page(text: str) -> int:
    is_number = text.isascii() and text.isdigit() and len(text) <= len(str(LARGEST_PAGE))
    return max(int(text), 1) if is_number else 1
