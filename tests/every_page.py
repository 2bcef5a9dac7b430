"""Every page, found by the names of the addresses: one that comes later and takes values has to be added here.

The browser looks at them, and the attacks try them.
"""

from collections.abc import Iterable, Iterator
from itertools import chain
from typing import Any

from django.db.models import Q
from django.urls import reverse

from api.models import ImportSet
from api.screens.counter.forms import ACTS
from api.screens.guides.library import NAMES
from api.screens.lists.declared import LISTS
from api.screens.paper.labels import LABELS
from api.screens.planning.setting_forms import SETTINGS
from api.screens.urls import urlpatterns
from api.wording.manager_figures import FIGURE_TITLES
from drives.models import Drive, Installation, Position
from inventory.models import CountTask, DeliveryCheck, FitQuestion, Kit, Recommendation, SupplyOrder

NO_PAGES = frozenset(
    {
        *("icon", "search_hits", "undo", "put_down", "choose_reading", "recalculate", "login", "logout"),
        *("list_file", "emergency_file", "labels_file", "budget_file", "figure_file", "buying_file"),
        *("recommendation_events", "tree_file", "revoke_token"),
        *("missing_file", "import_set_rows", "import_template"),
    }
)
"""Answers to a form, parts of a page, and files; the log-in is for nobody who is in."""
QUESTIONS = {
    "home": ("", "?q=sprocket", "?q=nothing+like+it"),
    "identify": ("", "?teeth=17&strands=1&worn=true&outside_diameter_mm=75.4&tooth_width_mm=7.1"),
    "decisions": ("", "?show=decided"),
    "feeds": ("", "?source=west&kind=work-orders"),
    "orphans": ("", "?show=holes"),
    **{f"budget{name}": ("?budget=1000",) for name in ("", "_buys", "_drives", "_left-out")},
}
"""Where a page looks different with a question in its address."""
KEYS: dict[str, Any] = {
    "approve": Installation,
    "count": CountTask,
    "delivery": SupplyOrder,
    "delivery_check": DeliveryCheck,
    "import_set": ImportSet,
    "kit": Kit,
    "question": FitQuestion,
    "recommendation": Recommendation,
}


def _with_sheets() -> Iterable[str]:
    """Drives that have a sheet for an emergency."""
    return Drive.objects.filter(Q(lifting=True) | Q(criticality="vital")).values_list("tag", flat=True)


def one_of_each(tag: str, number: str) -> Iterator[str]:
    """The first address of every page."""
    return (addresses[0] for addresses in _addresses(tag, number))


def screens(tag: str, number: str) -> Iterator[str]:
    """Every address of every page that looks different."""
    return chain.from_iterable(_addresses(tag, number))


def _addresses(tag: str, number: str) -> Iterator[list[str]]:
    """Of each page for people; KeyError names the one that is missing below."""
    drive = Position.objects.get(tag=tag).drive.tag
    values: dict[str, list[dict[str, Any]]] = {
        "act": [{"name": name} for name in ACTS],
        "list": [{"name": name} for name in LISTS],
        "labels": [{"name": name} for name in LABELS],
        "figure": [{"name": name} for name in FIGURE_TITLES if not name.startswith("filled_")],
        "setting": [
            *({"kind": kind, "key": one.keys[0]} for kind, one in SETTINGS.items() if one.keys),
            {"kind": "drives", "key": drive},
            {"kind": "items", "key": number},
        ],
        "set_password": [{"uidb64": "MQ", "token": "spent"}],
        "guide": [{"name": name} for name in NAMES],
        "emergency_sheet": [{"tag": tag} for tag in [drive, *_with_sheets()][-1:]],
        "drive": [{"tag": drive}],
        "drive_wear_strip": [{"tag": drive}],
        "chain_wear_strip": [{"designation": "08B"}],
        "position": [{"tag": tag}],
        "item": [{"number": number}],
        "template": [{"number": number}],
        **{
            name: [{"key": one.pk} for one in model.objects.order_by("-pk")[:1]]
            for name, model in KEYS.items()
        },
    }
    for pattern in urlpatterns:
        name = pattern.name
        if name in NO_PAGES:
            continue
        questions = {**QUESTIONS, "act": (f"?item={number}&position={tag}",)}.get(name, ("",))
        taken = pattern.pattern.converters.keys() - pattern.default_args.keys()
        found = [
            reverse(f"screens:{name}", kwargs=kwargs) + question
            for kwargs in (values[name] if taken else [{}])
            for question in questions
        ]
        yield found
