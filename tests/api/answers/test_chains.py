import pytest

from inventory.standards.chains import chains

pytestmark = [pytest.mark.django_db, pytest.mark.no_rows]


def test_it_lists_every_designated_chain_page_by_page(as_viewer):
    first = as_viewer.get("/api/v1/chains/", {"limit": 60})
    second = as_viewer.get(first.json()["next"])

    names = [row["designation"] for page in (first, second) for row in page.json()["results"]]
    assert names == [chain.designation for chain in chains()]
    assert len(names) == len(set(names))
    assert 'rel="next"' in first.headers["Link"]
    assert second.json()["next"] is None


def test_an_asme_number_is_answered_under_its_iso_name(as_viewer):
    answer = as_viewer.get("/api/v1/chains/40/").json()

    assert (answer["designation"], answer["asme_designation"], answer["pitch_mm"]) == ("08A", "40", 12.7)
    assert answer["source"]
    assert answer["confidence"]


def test_tensile_strength_carries_its_edition(as_viewer):
    # ISO 606:1994 text as in GOST 13568-97, annex A: 16B 42.3 kN; makers' printed minima: 60 kN.
    strengths = as_viewer.get("/api/v1/chains/16B/").json()["tensile_strength_kn"]

    values = {row["edition"]: row["value_kn"] for row in strengths if row["strands"] == 1}
    assert {42.3, 60.0} <= set(values.values())
    assert all(row["edition"] for row in strengths)


def test_what_was_never_seen_is_passed_on(as_viewer):
    answer = as_viewer.get("/api/v1/chains/C2162/").json()

    assert answer["is_confirmed"] is False
    assert answer["confidence"] == "from memory"
    doubts = {one["field"]: (one["error_mm"], one["kind"]) for one in answer["plausible_errors"]}
    assert doubts["roller_diameter_mm"] == (0.7, "memory")


@pytest.mark.parametrize(("name", "teeth", "printed_mm"), [("64B", 20, 57.0), ("72B", 20, 64.0)])
def test_a_rim_width_on_which_the_sources_disagree_says_so(as_viewer, name, teeth, printed_mm):
    # A page prints 57 and 64 mm for one row of teeth; 0.95 b1 is 57.9 and 65.2 mm.
    (doubt,) = as_viewer.get(f"/api/v1/chains/{name}/").json()["plausible_errors"]
    form = as_viewer.get(f"/api/v1/chains/{name}/tooth-form/", {"teeth": teeth}).json()

    assert (doubt["field"], doubt["kind"]) == ("tooth_width_mm", "disputed")
    assert abs(form["tooth_width_mm"] - printed_mm) <= doubt["error_mm"]
    assert "rim_width_unsettled" in {note["code"] for note in form["notes"]}


def test_it_filters_by_series_pitch_and_words(as_viewer):
    same_pitch = as_viewer.get("/api/v1/chains/", {"pitch_mm": "12.7", "limit": 100}).json()["results"]
    heavy = as_viewer.get("/api/v1/chains/", {"q": "60h"}).json()["results"]

    assert {"08A", "08B", "085", "428"} <= {row["designation"] for row in same_pitch}
    assert {row["pitch_mm"] for row in same_pitch} == {12.7}
    assert "12AH" in {row["designation"] for row in heavy}


def test_an_unknown_chain_is_not_there(as_viewer):
    answer = as_viewer.get("/api/v1/chains/09Q/")

    assert answer.status_code == 404
    assert answer.headers["Content-Type"].startswith("application/problem+json")


def test_unknown_filters_are_refused(as_viewer):
    answer = as_viewer.get("/api/v1/chains/", {"sries": "B"})

    assert answer.status_code == 400
    assert "series" in answer.json()["errors"][0]["detail"]


def test_a_known_version_is_not_sent_again(as_viewer):
    etag = as_viewer.get("/api/v1/chains/08B/").headers["ETag"]

    assert as_viewer.get("/api/v1/chains/08B/", HTTP_IF_NONE_MATCH=etag).status_code == 304


def test_strangers_stay_out(as_stranger):
    assert as_stranger.get("/api/v1/chains/").status_code == 401
