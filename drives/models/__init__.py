"""The records of the drives: plant, positions, installations, requests, work orders."""

from drives.models.cover import Cover, CoverState, MissingAttribute
from drives.models.drive import Criticality, Drive, IdlerKind, Lubrication, Position, RequirementBasis, Shock
from drives.models.feed import (
    Approval,
    CodeWord,
    InboundMessage,
    MessageOutcome,
    MeterReading,
    NeededPart,
    WorkOrder,
    WorkOrderKind,
    WorkOrderStatus,
)
from drives.models.history import AgeBasis, EndedBy, Inspection, Installation, Mechanism
from drives.models.plant import Area, Equipment, Plant, SubstituteApproval
from drives.models.plant_estimate import PlantEstimate, PoolEstimate
from drives.models.record_start import RecordSource, RecordStart
from drives.models.request import Request, RequestResult
from drives.models.stored_demand import ItemPart, StoredDemand, StoredNeed
from drives.models.substitution_rule import SubstitutionRule
from drives.models.verdict import RecordedVerdict
