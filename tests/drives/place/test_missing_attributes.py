from dataclasses import replace

import pytest

from drives.place.duty import Duty
from drives.place.missing_attributes import blocking_attributes
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Material
from tests.inventory.interchange.samples import chain, part, place

HERE = place(material=Material.CARBON_STEEL)
DUTY = Duty(lifting=False)


def blocking(offered, required=HERE, duty=DUTY):
    return blocking_attributes(required, offered, duty=duty, practice=Practice())


def fits():
    return part(material=Material.CARBON_STEEL)


@pytest.mark.parametrize("name", ["material", "bore_mm", "bore_type", "teeth", "chain", "strands"])
def test_one_missing_attribute_blocks_alone(name):
    assert blocking(fits()) == ((), True) or blocking(fits()) == ((), False)
    assert blocking(replace(fits(), **{name: None})) == ((name,), True)


def test_two_missing_attributes_block_together():
    assert blocking(replace(fits(), material=None, bore_mm=None)) == (("bore_mm", "material"), False)


def test_a_refusal_is_not_blocked_by_what_is_missing():
    assert blocking(replace(fits(), material=None, chain=chain("12B")))[0] == ()


def test_a_lifting_drive_waits_for_no_measurement():
    assert blocking(replace(fits(), material=None), duty=Duty(lifting=True))[0] == ()


def test_what_lacks_more_than_three_is_described_and_not_measured():
    assert blocking(replace(fits(), material=None, bore_mm=None, teeth=None, strands=None))[0] == ()
