"""Inspections: what somebody saw at a position."""

from api.edge.auth import STOCK_ROLES
from api.edge.declarations import in_plant
from api.edge.filtering import Range
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from drives.models import Inspection

COLUMNS = "at elongation_percent hooked_teeth running_hours note"
INSPECTIONS = declare(
    WireRecord(
        Inspection,
        path="inspections",
        text="What was seen: the elongation of the chain, hooked teeth, or words.",
        is_read_only=True,
        key="position at",
        log_key="position pk",
        scope=in_plant("position__drive__equipment__area__plant"),
        fields=f"id position drive=position.drive.tag {COLUMNS} created_at updated_at",
        related="position__drive",
        write_roles=STOCK_ROLES,
        listed=ListForm(
            filters=(
                "position drive=position__drive__tag equipment=position__drive__equipment__tag "
                "plant=position__drive__equipment__area__plant__code hooked_teeth"
            ),
            numbers={"elongation_percent": Range(-1, 20), "running_hours": Range(0, 10**8)},
            moments="at",
            search="position__tag note",
            sortable="id at elongation_percent",
            ordering="-at -id",
        ),
        file=FileForm(order=160, columns=f"position {COLUMNS}", related={"position": ("drive",)}),
    )
)
