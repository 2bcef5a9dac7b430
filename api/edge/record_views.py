"""Views of records: found by natural key, written by the roles that keep them."""

import re
from typing import Any

from django.http import Http404

from api.edge.viewsets import ResourceViewSet

LONGEST_ID = 18
STOCK_ROLES = ("storeroom", "manager", "integration")


class NaturalKeyMixin(ResourceViewSet):
    """The address of a record holds its natural key (`lookup_field`), or its id."""

    lookup_value_regex = "[^/]+"

    def get_object(self) -> Any:
        rows = self.filter_queryset(self.get_queryset())
        given = str(self.kwargs[self.lookup_url_kwarg or self.lookup_field])
        found = rows.filter(**{self.lookup_field: given}).first()
        if found is None and re.fullmatch(rf"[0-9]{{1,{LONGEST_ID}}}", given):
            found = rows.filter(pk=int(given)).first()
        if found is None:
            raise Http404
        return found
