"""Densities in closed form against draws, and expected information against counting and the law of two cases."""

import numpy as np
import pytest
from scipy.integrate import quad

from inventory.facts import Refusal
from inventory.identification.information import prospects
from inventory.identification.posterior import Posterior, posterior
from inventory.identification.reading_model import MODELS, density, errors_of
from inventory.identification.readings import ContradictoryReadings, Readings
from inventory.identification.rim_sizes import sizes_of
from inventory.identification.rims import Rim, is_same_rim, prior_of, rims, rims_of
from inventory.number_checks import InvalidNumber
from inventory.standards.chains import find_chain


def rim_of(chain: str, strands: int = 1) -> Rim:
    return next(one for one in rims(strands) if chain in one.designations and one.single_cut)


@pytest.mark.parametrize("name", ["outside_diameter_mm", "caliper_diameter_mm", "tooth_width_mm", "chord_mm"])
@pytest.mark.parametrize("worn", [True, False])
def test_a_density_is_that_of_draws_from_its_parts(name: str, worn: bool) -> None:
    """Means and standard deviations of 200,000 sums of two even numbers and a normal one, drawn with numpy."""
    sizes, readings = sizes_of([rim_of("08B")], [17]), Readings(teeth=17)
    dice = np.random.default_rng(5)
    parts = list(MODELS[name](sizes, readings, worn))
    chosen = dice.choice(len(parts), 200_000, p=[one.share for one in parts])
    low, high, loss = (
        np.array([float(getattr(one, of)[0]) for one in parts]) for of in ("least", "most", "loss")
    )
    errors = errors_of(name, float(high.max()))
    deviation = dice.choice([one for _, one in errors], 200_000, p=[share for share, _ in errors])
    drawn = (
        dice.uniform(low[chosen], high[chosen])
        - dice.uniform(0, loss[chosen])
        + dice.normal(0, 1, 200_000) * deviation
    )
    at = np.linspace(drawn.min() - 1, drawn.max() + 1, 20_001)
    curve = density(name, at[None, :], sizes, readings, worn=worn)[0]
    step = at[1] - at[0]

    assert curve.sum() * step == pytest.approx(1.0, abs=1e-3)
    assert (curve * at).sum() * step == pytest.approx(drawn.mean(), abs=0.02)
    assert np.sqrt((curve * (at - drawn.mean()) ** 2).sum() * step) == pytest.approx(drawn.std(), rel=0.02)


def test_a_single_part_is_the_convolution_by_quadrature() -> None:
    sizes, readings = sizes_of([rim_of("16B")], [21]), Readings(teeth=21)
    at = 15.6
    found = float(density("tooth_width_mm", at, sizes, readings, worn=False)[0])

    def smooth(size: float, least: float, most: float, loss: float, deviation: float) -> float:
        even = max(0.0, min(most, size + loss) - max(least, size)) / ((most - least) * loss)
        error = (at - size) / deviation
        return even * float(np.exp(-0.5 * error * error) / (deviation * np.sqrt(2 * np.pi)))

    summed = 0.0
    for part in MODELS["tooth_width_mm"](sizes, readings, False):
        least, most, loss = float(part.least[0]), float(part.most[0]), max(float(part.loss[0]), 0.01)
        for share, deviation in errors_of("tooth_width_mm", at):
            arguments = (least, most, loss, deviation)
            points = [least - loss, least, most - loss, most, at]
            area, _ = quad(smooth, least - loss, most, arguments, points=points, limit=200)
            summed += part.share * share * area
    assert found == pytest.approx(summed, rel=1e-4)


def test_worn_tips_read_low_and_never_high() -> None:
    sizes, readings = sizes_of([rim_of("16B")], [20]), Readings(teeth=20)
    at = np.linspace(150, 190, 4001)[None, :]
    new, worn = (
        density("outside_diameter_mm", at, sizes, readings, worn=state)[0] for state in (False, True)
    )

    assert (worn.cumsum() - new.cumsum()).min() > -1e-6


def test_the_expected_information_of_a_width_that_separates_is_the_entropy_of_the_choice() -> None:
    """Two rims that were equally likely, 16A and 16B, and others: at most the entropy, and one bit of it for the pair alone."""
    readings = Readings(teeth=21, outside_diameter_mm=182, strands=1, worn=False)
    found = posterior(readings)
    kept = np.array([rim in (rim_of("16A"), rim_of("16B")) for rim in found.rims]) & (found.teeth == 21)
    shares = np.where(kept, found.shares, 0.0)
    pair = Posterior(found.rims, found.teeth, found.sizes, shares / shares.sum(), found.worn, 0.0)
    by_name = {one.measurement: one for one in prospects(pair, readings, [rim_of("16A"), rim_of("16B")])}

    assert by_name["tooth_width_mm"].information_bits == pytest.approx(1.0, abs=0.01)
    assert by_name["tooth_width_mm"].right_of_two[0, 1] == pytest.approx(1.0, abs=0.01)
    assert by_name["caliper_diameter_mm"].information_bits == pytest.approx(0.0, abs=0.01)
    assert by_name["caliper_diameter_mm"].right_of_two[0, 1] == pytest.approx(0.5, abs=0.01)


def test_expected_information_is_the_mean_fall_of_the_entropy() -> None:
    """Against 4,000 simulated readings, each followed by Bayes' rule."""
    readings = Readings(teeth=21, outside_diameter_mm=112, strands=1, worn=False)
    found = posterior(readings)
    names = [rim_of("10A"), rim_of("10B"), rim_of("532")]
    kept = np.array([rim in names for rim in found.rims]) & (found.teeth == 21)
    shares = np.where(kept, found.shares, 0.0) / found.shares[kept].sum()
    some = Posterior(found.rims, found.teeth, found.sizes, shares, found.worn, 0.0)
    expected = {one.measurement: one.information_bits for one in prospects(some, readings, names)}

    places = np.flatnonzero(kept)
    sizes, prior = found.sizes.rows(places), shares[places]
    dice = np.random.default_rng(3)
    at = np.linspace(7.5, 10.5, 6001)
    curves = density("tooth_width_mm", np.tile(at, (len(places), 1)), sizes, readings, worn=False)
    curves /= curves.sum(axis=1, keepdims=True)
    falls = []
    for row in dice.choice(len(places), 4000, p=prior):
        column = dice.choice(len(at), p=curves[row])
        after = prior * curves[:, column]
        after /= after.sum()
        falls.append(entropy(prior) - entropy(after))
    assert expected["tooth_width_mm"] == pytest.approx(np.mean(falls), abs=0.03)


def entropy(shares: np.ndarray) -> float:
    known = shares[shares > 0]
    return float(-(known * np.log2(known)).sum())


def test_a_prior_adds_up_to_one_with_and_without_a_plant() -> None:
    for strands in (None, 1, 2):
        found = rims_of(strands)
        for plant in (None, {("08B", 1): 3, ("16A", 2): 1}):
            assert sum(prior_of(found, strands_known=strands is not None, plant=plant)) == pytest.approx(1.0)


def test_the_share_without_a_plant_is_that_of_a_run_without_it() -> None:
    readings = Readings(teeth=21, outside_diameter_mm=112, tooth_width_mm=8.8)
    with_plant, without = posterior(readings, {("10B", 1): 40, ("08B", 2): 3}), posterior(readings)
    for name in ("10A", "10B"):
        assert with_plant.share_without_plant(rim_of(name)) == pytest.approx(
            without.of_rims()[rim_of(name)], abs=1e-9
        )


def test_chains_of_one_rim_are_one_and_those_of_another_width_are_not() -> None:
    """Source: ISO 606 and ASME B29.1 tables: equal pitch, roller and inner width; 26.11 and 22.78 mm of transverse pitch."""
    assert is_same_rim(find_chain("60H"), find_chain("60"), strands=1)
    assert not is_same_rim(find_chain("60H"), find_chain("60"), strands=2)
    assert not is_same_rim(find_chain("10A"), find_chain("10B"), strands=1)
    assert {"083", "084", "415"} <= set(rim_of("083").designations)


@pytest.mark.parametrize(
    ("wrong", "field", "code"),
    [
        (
            {"outside_diameter_mm": 60, "caliper_diameter_mm": 70},
            "outside_diameter_mm",
            "reading_smaller_than_other",
        ),
        ({"overall_width_mm": 9, "tooth_width_mm": 12}, "overall_width_mm", "reading_smaller_than_other"),
        (
            {"overall_width_mm": 10, "tooth_width_mm": 9, "strands": 2},
            "overall_width_mm",
            "width_contradicts_rows",
        ),
        (
            {"overall_width_mm": 20, "tooth_width_mm": 7, "strands": 1},
            "overall_width_mm",
            "width_contradicts_rows",
        ),
        ({"hub_diameter_mm": 20, "bore_mm": 30}, "hub_diameter_mm", "reading_smaller_than_other"),
        ({"bore_mm": 20, "keyway_width_mm": 30}, "bore_mm", "reading_smaller_than_other"),
        ({"chord_mm": 20}, "chord_gaps", "chord_needs_both"),
        ({"chord_mm": 20, "chord_gaps": 12}, "chord_gaps", "chord_gaps_beyond_half"),
    ],
)
def test_readings_that_contradict_each_other_are_refused_at_the_one_to_take_again(
    wrong: dict[str, float], field: str, code: str
) -> None:
    with pytest.raises(Refusal) as refused:
        Readings(teeth=20, **wrong)

    assert (refused.value.field, refused.value.fact.code) == (field, code)


def test_a_reading_error_is_no_contradiction() -> None:
    Readings(teeth=20, overall_width_mm=11.9, tooth_width_mm=12.0)
    with pytest.raises(ContradictoryReadings):
        Readings(teeth=20, overall_width_mm=11.2, tooth_width_mm=12.0)


@pytest.mark.parametrize(
    "wrong",
    [
        {"teeth": 0},
        {"teeth": 5},
        {"teeth": 20, "outside_diameter_mm": -1.0},
        {"teeth": 20, "tooth_width_mm": 1e7},
    ],
)
def test_impossible_numbers_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InvalidNumber):
        Readings(**wrong)
