"""The sentence of a finding, for tests that still read it."""

from api.wording.sentences import sentences
from inventory.interchange.values import Finding


def explained(finding: Finding) -> str:
    return sentences(finding.facts)
