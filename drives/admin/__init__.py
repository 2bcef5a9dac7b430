"""Administration pages; installations and inspections are written by the service record alone."""

from drives.admin.demand import CoverAdmin, CoverStateAdmin, RequestAdmin
from drives.admin.drive import DriveAdmin, PositionAdmin
from drives.admin.feed import (
    ApprovalAdmin,
    CodeWordAdmin,
    InboundMessageAdmin,
    MeterReadingAdmin,
    WorkOrderAdmin,
)
from drives.admin.history import InspectionAdmin, InstallationAdmin
from drives.admin.plant import AreaAdmin, EquipmentAdmin, PlantAdmin

__all__ = [
    "ApprovalAdmin",
    "AreaAdmin",
    "CodeWordAdmin",
    "CoverAdmin",
    "CoverStateAdmin",
    "DriveAdmin",
    "EquipmentAdmin",
    "InboundMessageAdmin",
    "InspectionAdmin",
    "InstallationAdmin",
    "MeterReadingAdmin",
    "PlantAdmin",
    "PositionAdmin",
    "RequestAdmin",
    "WorkOrderAdmin",
]
