"""What sits where: units on positions, who let substitutes run, and what was seen there."""

from api.edge.declarations import Declaration, in_plant
from api.wire.declaration import FileForm, WireRecord, declare
from drives.models import Approval, Inspection, Installation

PLANT = "position__drive__equipment__area__plant"

INSTALLATIONS = declare(
    WireRecord(
        Installation,
        path="installations",
        key="position installed_at",
        log_key="position pk",
        scope=in_plant(PLANT),
        file=FileForm(
            order=150,
            columns=(
                "position item installed_at installed_why removed_at ended_by mechanism cause part running_hours age_basis "
                "work_order temporary_until approved_by approval_reference inspect_by note"
            ),
            required="item",
            related={"position": ("drive",), "item": ("specification",)},
        ),
    )
)
APPROVALS = declare(
    Declaration(Approval, log_key="installation__position__tag pk", scope=in_plant(f"installation__{PLANT}"))
)
INSPECTIONS = declare(
    WireRecord(
        Inspection,
        path="inspections",
        key="position at",
        log_key="position pk",
        scope=in_plant(PLANT),
        file=FileForm(
            order=160,
            columns="position at elongation_percent hooked_teeth running_hours note",
            related={"position": ("drive",)},
        ),
    )
)
