"""Chain, or a link of it, for the drive of a position: whether it is the chain on which the drive runs."""

from dataclasses import replace

from drives.place.duty import Duty, PlacedPart
from drives.place.duty_checks import check_lifting
from inventory.facts import fact
from inventory.interchange.engagement import check_chain
from inventory.interchange.findings import Finding, Verdict, compared, not_recorded
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.safety import check_declarations
from inventory.interchange.table_doubts import Judged, settle, table_doubts
from inventory.interchange.thresholds import Practice
from inventory.interchange.verdict import SHIPPED
from inventory.interchange.vocabulary import Aspect, Outcome

OF_THE_RECORD = (fact("drive_as_recorded"),)


def judge_chain_for_place(
    required: Requirement, offered: Sprocket, *, duty: Duty | None = None, practice: Practice = SHIPPED
) -> Verdict:
    """`offered` has the attributes of the chain. Another series is left to a person even where it runs on the same sprockets."""
    placed = PlacedPart(required=required, duty=duty or Duty(), offered=offered, practice=practice)

    def find(given: Judged) -> tuple[Finding, ...]:
        # The material that a position asks for is that of its sprocket.
        asked, part = replace(given[0], material=None), given[1]
        checks = (_check_chain(asked, part, practice), _check_strands(asked, part))
        return (*checks, *check_declarations(asked, part), check_lifting(placed))

    return Verdict(findings=settle(find, (required, offered), table_doubts(required, offered)))


def _check_chain(required: Requirement, offered: Sprocket, practice: Practice) -> Finding:
    drives, own = required.chain, offered.chain
    if drives is None or own is None:
        code = "position_chain_not_recorded" if drives is None else "chain_sizes_not_recorded"
        names = {"required": drives.name if drives else None, "offered": own.name if own else None}
        return not_recorded(Aspect.CHAIN, fact(code), **names)
    # The new chain on the sprockets that are there, which are cut for the chain of the drive.
    rim = Sprocket(chain=drives, strands=required.strands, teeth=required.teeth)
    on_rim = check_chain(Requirement(chain=own, strands=offered.strands), rim, practice)
    found = replace(Verdict(findings=on_rim).checks[0], required=drives.name, offered=own.name)
    if None in (drives.designation, own.designation) or drives.designation == own.designation:
        return found
    named = fact("drive_runs_on_other_chain", drives=drives.name, own=own.name)
    outcome = Outcome.NO if found.outcome is Outcome.NO else Outcome.REVIEW
    return replace(found, outcome=outcome, facts=(named, *found.facts))


def _check_strands(required: Requirement, offered: Sprocket) -> Finding:
    drives, own = required.strands, offered.strands
    if drives is None or own is None:
        code = "position_strands_not_recorded" if drives is None else "chain_strands_not_recorded"
        return not_recorded(Aspect.STRANDS, fact(code), required=drives, offered=own)
    figures = compared(drives, own, limit=drives, margin=own - drives)
    outcome, code = Outcome.OK, "strands_equal"
    if own != drives:
        outcome, code = Outcome.NO, "strands_differ"
    found = fact(code, drives=drives, own=own)
    return Finding(Aspect.STRANDS, outcome, (found,), **figures, sources=OF_THE_RECORD)
