"""Slack: a chain maker's published answer on tension. Alignment: The Complete Guide to Chain, 1997, section 7.1.2.2."""

import pytest

from drives.chain.setting import setting_limits
from inventory.facts import fact


def test_slack_is_four_to_six_percent_of_the_centres_and_half_of_it_where_the_drive_runs_hard():
    ordinary, hard = (setting_limits(1000, runs_hard=runs_hard)[0] for runs_hard in (False, True))

    assert ordinary == fact(
        "slack_at_midspan", least_mm=40.0, most_mm=60.0, upright_least_mm=20.0, upright_most_mm=30.0
    )
    assert hard == fact("slack_at_midspan_tighter", least_mm=20.0, most_mm=30.0)


@pytest.mark.parametrize(("centre_mm", "most_mm"), [(400, 1.0), (1000, 1.0), (4000, 4.0), (12000, 10.0)])
def test_faces_are_in_line_as_the_guide_has_it_for_the_distance_of_the_shafts(centre_mm, most_mm):
    assert setting_limits(centre_mm, runs_hard=False)[1] == fact("faces_in_line", most_mm=most_mm)


def test_without_a_centre_distance_the_limits_are_shares():
    codes = [one.code for one in setting_limits(None, runs_hard=True)]

    assert codes == ["slack_shares", "faces_in_line_shares", "shafts_parallel"]


def test_a_centre_distance_is_above_zero():
    with pytest.raises(ValueError, match="centre_mm"):
        setting_limits(0, runs_hard=False)
