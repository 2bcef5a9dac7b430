"""Part for part: every check of a candidate against a requirement; all findings are kept, the worst decides."""

from dataclasses import replace

from inventory.interchange.bushing import BushesAtHand
from inventory.interchange.engagement import check_chain
from inventory.interchange.envelope import check_envelope
from inventory.interchange.findings import Consequences, Finding, Verdict
from inventory.interchange.hub import check_hub
from inventory.interchange.material import check_material
from inventory.interchange.mounting import check_mounting
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.safety import cautions_for, check_declarations
from inventory.interchange.strands import check_strands
from inventory.interchange.table_doubts import Judged, settle, table_doubts
from inventory.interchange.teeth import check_teeth
from inventory.interchange.thresholds import Practice
from inventory.interchange.tip_diameter import check_tip_diameter
from inventory.interchange.tooth_hardness import check_tooth_hardness

SHIPPED = Practice()


def judge(
    required: Requirement,
    offered: Sprocket,
    *,
    practice: Practice = SHIPPED,
    bushes: BushesAtHand | None = None,
) -> Verdict:
    """Whether `offered` can replace what is required, part for part; required and offered do not commute.

    What `required` leaves out is not checked, and the verdict lists it. Without `bushes` a bush change is offered on
    condition; with them, a hub whose bush is on no shelf is refused.

    >>> from inventory.interchange.part_requirement import requirement_of
    >>> from inventory.interchange.requirement import Engagement
    >>> from inventory.interchange.vocabulary import BoreType
    >>> from inventory.standards.chains import find_chain
    >>> part = Sprocket(chain=Engagement.of(find_chain("08B")), teeth=17, strands=1, bore_type=BoreType.FINISHED,
    ...                      bore_mm=25.0, keyway_width_mm=8.0)
    >>> judge(requirement_of(part), part).grade.value
    'drop_in'
    """

    def find(given: Judged) -> tuple[Finding, ...]:
        return part_findings(*given, practice=practice, bushes=bushes)

    findings = settle(find, (required, offered), table_doubts(required, offered))
    consequences = Consequences(chain_line_shift_mm=chain_line_shift_mm(required, offered))
    verdict = Verdict(findings=findings, consequences=consequences)
    return with_cautions(verdict, required=required, offered=offered, practice=practice)


def part_findings(
    required: Requirement, offered: Sprocket, *, practice: Practice, bushes: BushesAtHand | None
) -> tuple[Finding, ...]:
    """With every figure as the tables have it; `settle` works those out again that no source shows."""
    return (
        *check_chain(required, offered, practice),
        *check_strands(required, offered, practice),
        *check_teeth(required, offered, practice),
        *check_tip_diameter(required, offered, practice),
        *check_mounting(required, offered, practice, bushes),
        *check_hub(required, offered, practice),
        *check_envelope(required, offered, practice),
        *check_material(required, offered, practice),
        *check_tooth_hardness(required, offered, practice),
        *check_declarations(required, offered),
    )


def with_cautions(
    verdict: Verdict, *, required: Requirement, offered: Sprocket, practice: Practice
) -> Verdict:
    cautions = cautions_for(verdict, required=required, offered=offered, practice=practice)
    return replace(verdict, cautions=cautions)


def chain_line_shift_mm(required: Requirement, offered: Sprocket) -> float | None:
    """How far the chain line moves when both parts sit against the same shoulder: the difference of hub lengths."""
    old = required.interface
    if old is None or old.length_through_bore_mm is None or offered.length_through_bore_mm is None:
        return None
    return round(offered.length_through_bore_mm - old.length_through_bore_mm, 3)
