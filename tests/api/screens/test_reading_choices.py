import pytest

from tests.factories import PositionFactory

pytestmark = pytest.mark.django_db
CHOICE = {"language": "de", "units": "in", "then": "/lists/?q=1"}


def test_the_language_of_the_browser_is_the_first_choice(client):
    page = client.get("/login/", headers={"Accept-Language": "de-AT,de;q=0.9,en;q=0.5"})
    assert '<html lang="de">' in page.text
    assert "Anmelden" in page.text
    assert "Accept-Language" in page["Vary"]


def test_a_choice_is_kept_and_leads_back_to_the_page(client):
    sent = client.post("/reading/", CHOICE)
    assert (sent.status_code, sent["Location"]) == (302, "/lists/?q=1")
    page = client.get("/login/", headers={"Accept-Language": "es"})
    assert '<html lang="de">' in page.text
    assert '<option value="in" selected>' in page.text


@pytest.mark.parametrize(("field", "word"), [("language", "xx"), ("units", "ft"), ("units", "")])
def test_what_is_not_offered_is_refused_and_nothing_kept(client, field, word):
    sent = client.post("/reading/", CHOICE | {field: word})
    assert sent.status_code == 400
    assert not {"language", "units"} & sent.cookies.keys()


@pytest.mark.parametrize("then", ["//elsewhere.example/", "https://elsewhere.example/", ""])
def test_it_leads_to_no_other_site(client, then):
    assert client.post("/reading/", CHOICE | {"then": then})["Location"] == "/"


def test_pages_are_in_the_chosen_units_and_the_api_in_its_own(client, django_user_model):
    position = PositionFactory(shaft_diameter_mm=25)
    client.force_login(django_user_model.objects.create_superuser("reader"))
    client.cookies.load({"units": "in", "language": "de"})

    page = client.get(f"/positions/{position.tag}/").text
    answer = client.get("/api/v1/positions/", {"tag": position.tag}).json()

    assert "0,984 in (25 mm)" in page
    assert "0,984 in (25 mm)" in client.get("/lists/positions/").text
    assert "19,685 in (500 mm)" in client.get(f"/drives/{position.drive.tag}/").text
    assert answer["results"][0]["shaft_diameter_mm"] in (25, "25", "25.000000", 25.0)
