"""Chain for a place: the same one passes, another number, pitch or number of strands never does without a person."""

import pytest

from drives.place.chain_check import judge_chain_for_place
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.vocabulary import Aspect, Environment, Grade, Material
from tests.drives.place.samples import duty
from tests.inventory.interchange.samples import chain, custom_chain

ON_12A = {"chain": chain("12A"), "strands": 1}


def judged(required, offered, **known):
    verdict = judge_chain_for_place(Requirement(**required), Sprocket(**offered), duty=duty(**known))
    return verdict.grade, [one.code for one in verdict.deciding]


@pytest.mark.parametrize(
    ("required", "offered", "grade", "codes"),
    [
        (ON_12A, ON_12A, Grade.DROP_IN, ["same_chain", "strands_equal", "not_a_lifting_drive"]),
        # The same rollers and widths with thicker plates: it runs, but it is another chain with other links.
        (ON_12A, ON_12A | {"chain": chain("60H")}, Grade.NEEDS_REVIEW, ["drive_runs_on_other_chain"]),
        # One pitch, another roller: 8.51 against 7.92 mm.
        (
            {"chain": chain("08A"), "strands": 1},
            {"chain": chain("08B"), "strands": 1},
            Grade.UNFIT,
            ["drive_runs_on_other_chain"],
        ),
        (ON_12A, ON_12A | {"chain": chain("16A")}, Grade.UNFIT, ["drive_runs_on_other_chain"]),
        (ON_12A, ON_12A | {"strands": 2}, Grade.UNFIT, ["strands_differ"]),
        (ON_12A | {"strands": 3}, ON_12A | {"strands": 2}, Grade.UNFIT, ["strands_differ"]),
        (ON_12A, {"strands": 1}, Grade.NEEDS_REVIEW, ["chain_sizes_not_recorded"]),
        ({"strands": 1}, ON_12A, Grade.NEEDS_REVIEW, ["position_chain_not_recorded"]),
        (ON_12A, {"chain": chain("12A")}, Grade.NEEDS_REVIEW, ["chain_strands_not_recorded"]),
        ({"chain": chain("12A")}, ON_12A, Grade.NEEDS_REVIEW, ["position_strands_not_recorded"]),
        # Outside the standards only the sizes tell.
        (
            {"chain": custom_chain(27.0, 15.0, 16.0), "strands": 1},
            {"chain": custom_chain(27.0, 15.0, 16.0), "strands": 1},
            Grade.DROP_IN,
            ["same_chain", "strands_equal", "not_a_lifting_drive"],
        ),
        (
            {"chain": custom_chain(27.0, 15.0, 16.0), "strands": 1},
            {"chain": custom_chain(30.0, 15.0, 16.0), "strands": 1},
            Grade.UNFIT,
            ["pitch_differs"],
        ),
        (
            ON_12A | {"food_contact_required": True},
            ON_12A | {"food_contact": False},
            Grade.UNFIT,
            ["declared_not"],
        ),
    ],
)
def test_chain_is_judged_by_the_chain_of_the_drive(required, offered, grade, codes):
    assert judged(required, offered) == (grade, codes)


def test_a_lifting_drive_leaves_its_own_chain_to_a_person_too():
    grade, codes = judged(ON_12A, ON_12A, lifting=True)
    assert (grade, codes) == (Grade.NEEDS_REVIEW, ["lifting_drive_takes_no_substitute"])


def test_another_chain_says_beside_its_name_what_it_does_on_the_sprockets():
    verdict = judge_chain_for_place(Requirement(**ON_12A), Sprocket(chain=chain("16A"), strands=1))
    [found] = verdict.deciding
    assert [one.code for one in found.facts] == ["drive_runs_on_other_chain", "pitch_differs"]
    assert (found.aspect, found.required, found.offered) == (Aspect.CHAIN, "12A", "16A")


def test_the_material_of_the_sprocket_is_not_asked_of_the_chain():
    dusty = {"material": Material.CAST_IRON, "environment": frozenset({Environment.EXPLOSIVE})}
    assert judged(ON_12A | dusty, ON_12A | {"material": Material.CARBON_STEEL})[0] is Grade.DROP_IN
