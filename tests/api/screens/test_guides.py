"""The guides: what they name exists, German says what English says, and the box finds it."""

import re

import pytest
from django.core.management import get_commands
from django.urls import Resolver404, resolve
from django.utils.translation import override

from api.environment import TABLE
from api.screens.guides.library import FOLDER, NAMES, find, guide, load
from api.wording.terms_fit import GRADE_TERMS
from tests.pages import signed_in

CODE = re.compile(r"`([^`\n]+)`")
FENCE = re.compile(r"^```\w*\n(.*?)^```$", re.DOTALL | re.MULTILINE)
ELSEWHERE = ("/etc/", "/opt/", "/srv/", "/var/", "/.well-known/", "/oidc/")
OWN_NAMES = {
    "BACKUPS",
    "RESTORED",
    "ENV_FILE",
    "PATH",
    "TOKEN",
    "HOST",
    "NAME",
    "ROLE",
    "FILE",
    "KIND",
    "DIRECTORY",
}
FILES = [
    (name, language)
    for name in NAMES
    for language in ("en", "de")
    if (FOLDER / language / f"{name}.md").exists()
]


def source(name: str, language: str) -> str:
    return (FOLDER / language / f"{name}.md").read_text(encoding="utf-8")


def addresses(text: str) -> list[str]:
    """What is named as an address of the service."""
    found = [re.sub(r"^(GET|POST|PUT|PATCH|DELETE) ", "", one) for one in CODE.findall(text)]
    paths = [one.partition("?")[0] for one in found if re.match(r"/[a-z]", one)]
    return [re.sub(r"\{\w+\}", "1", one) for one in paths if not one.startswith(ELSEWHERE)]


@pytest.mark.parametrize("name", NAMES)
def test_german_has_every_part_with_the_same_commands_addresses_and_names(name: str) -> None:
    english, german = source(name, "en"), source(name, "de")
    assert len(load(name, "en").text.parts) == len(load(name, "de").text.parts)
    assert FENCE.findall(english) == FENCE.findall(german)
    assert sorted(addresses(english)) == sorted(addresses(german))
    assert english.count("\n|") == german.count("\n|")


@pytest.mark.parametrize(("name", "language"), FILES)
def test_every_address_is_one_of_the_service(name: str, language: str) -> None:
    wrong = []
    for address in addresses(source(name, language)):
        try:
            resolve(address)
        except Resolver404:
            wrong.append(address)
    assert wrong == []


@pytest.mark.parametrize(("name", "language"), FILES)
def test_every_setting_and_command_exists(name: str, language: str) -> None:
    text = source(name, language)
    named = {
        one for code in CODE.findall(text) for one in re.findall(r"(?<![\w$])([A-Z]{3,}(?:_[A-Z]+)+)\b", code)
    }
    assert named - {one.name for one in TABLE} - OWN_NAMES == set()
    commands = set(re.findall(r"chain-drive-spares ([a-z_]+)", text))
    assert commands - set(get_commands()) - {"compile_texts"} == set()


@pytest.mark.parametrize(("language", "title"), [("en", "Commands"), ("de", "Befehle")])
def test_every_command_of_the_table_exists(language: str, title: str) -> None:
    _, _, table = source("administrator", language).partition(f"\n## {title}\n")
    first_cells = re.findall(r"^\| (`.+?) \|", table.partition("\n## ")[0], re.MULTILINE)
    commands = {one.split()[0] for cell in first_cells for one in CODE.findall(cell)}
    assert len(commands) > 15
    assert commands - set(get_commands()) == set()


def test_every_sign_has_its_alarm() -> None:
    made = (FOLDER.parents[1] / "operations" / "signs.py").read_text(encoding="utf-8")
    signs = set(re.findall(r'(?:OperatingSign|age_sign)\(\s*"(\w+)"', made))
    assert len(signs) > 7
    assert {f"spares_{one}" for one in signs} <= set(
        re.findall(r"\| `(spares_\w+)`", source("administrator", "en"))
    )


def test_every_setting_of_the_table_is_shown() -> None:
    shown = load("administrator", "en").text.parts[-1].html
    assert [one.name for one in TABLE if f"<code>{one.name}</code>" not in shown] == []


@pytest.mark.parametrize(
    ("language", "asked", "name", "title"),
    [
        ("en", "xyzzy", "", ""),
        ("en", "How do I restore a backup?", "administrator", "Restore"),
        ("en", "somebody forgot their password", "administrator", "Passwords and single sign-on"),
        ("en", "undo an issue booked by mistake", "storeroom", "A mistake"),
        ("en", "stock is not on the shelf", "storeroom", "The shelf is not as booked"),
        ("en", "torque of the bush screws", "fitter", "The fitting sheet"),
        ("en", "is the chain worn out", "fitter", "Is the chain worn?"),
        ("en", "your first hour", "first-hour", "1. A token"),
        ("de", "send a work order with curl", "first-hour", "7. A work order"),
        ("en", "pg_dump every night", "administrator", "Back up"),
        ("en", "RESTORE", "administrator", "Restore"),
        ("de", "Nacht Stillstand", "storeroom", "Ein Stillstand in der Nacht"),
        ("es", "breakdown night", "storeroom", "A breakdown at night"),
        ("en", "change the port", "administrator", "Behind a proxy, with TLS"),
        ("en", "sandbox", "administrator", "Try it first"),
        ("en", "license", "administrator", "How to read this page"),
        ("en", "decimal comma", "first-day", "Which lists"),
        ("en", "opening hours", "first-day", "Plant, storeroom and people"),
        ("en", "map fields", "integrator", "Who sends what"),
        ("en", "print labels", "storeroom", "Keys and scanner"),
        ("de", "Port ändern", "administrator", "Hinter einem Proxy, mit TLS"),
        ("de", "Testumgebung", "administrator", "Erst ausprobieren"),
        ("de", "Lizenz", "administrator", "Wie diese Seite zu lesen ist"),
        ("de", "Sprache", "storeroom", "Tasten und Scanner"),
        ("de", "Öffnungszeiten", "first-day", "Werk, Lager und Personen"),
        ("de", "Felder zuordnen", "integrator", "Wer was sendet"),
        ("en", "who may approve", "administrator", "Who may do what"),
        ("en", "nobody can log in", "administrator", "Locked out: somebody cannot log in"),
        ("en", "give a colleague access", "administrator", "The first user and the roles"),
        ("en", "scheduler not running", "administrator", "What to do at each alarm"),
        ("en", "two factor login", "administrator", "Passwords and single sign-on"),
        ("en", "webhook events missed", "integrator", "Hear of changes"),
        ("en", "bulk upload", "integrator", "Who sends what"),
        ("en", "pagination of lists", "integrator", "What can be relied on"),
        ("en", "alternative for a sprocket", "first-day", "The first answer"),
        ("en", "import my excel list", "first-day", "Send them together"),
        ("en", "merge two stock numbers", "manager", "Better data, better answers"),
        ("en", "plan for the shutdown", "manager", "What to buy"),
        ("de", "wer darf freigeben", "administrator", "Wer was darf"),
        ("de", "ausgesperrt", "administrator", "Ausgesperrt: Jemand kann sich nicht anmelden"),
        ("de", "neuer Mitarbeiter", "administrator", "Der erste Benutzer und die Rollen"),
        ("de", "Update einspielen", "administrator", "Auf eine neue Version"),
        ("de", "Webhook kommt nicht an", "administrator", "Was bei jedem Alarm zu tun ist"),
        ("de", "Excel importieren", "first-day", "Zusammen senden"),
        ("de", "Ersatz genehmigen", "manager", "Regeln und Freigaben"),
    ],
)
def test_the_box_finds_parts_in_the_language_of_the_reader(
    language: str, asked: str, name: str, title: str
) -> None:
    with override(language):
        hits, _ = find(asked)
    assert (hits[0].guide.name, hits[0].part.title) == (name, title) if name else hits == []


@pytest.mark.parametrize(
    ("language", "asked"),
    [("en", "who may approve"), ("en", "role"), ("de", "Berechtigung"), ("de", "wer darf")],
)
def test_the_box_finds_the_table_of_roles(language: str, asked: str) -> None:
    with override(language):
        hits, _ = find(asked)
    assert "/help/roles/#content" in [f"{one.guide.address}#{one.part.anchor}" for one in hits]


@pytest.mark.django_db
def test_help_answers_and_a_guide_opens_in_german() -> None:
    reader = signed_in("storeroom")
    page = reader.get("/help/", {"q": "pg_dump"}).content.decode()
    assert "/help/administrator/#back-up" in page
    assert (
        f"/help/#{GRADE_TERMS[0].name}"
        in reader.get("/help/", {"q": str(GRADE_TERMS[0].words)}).content.decode()
    )
    assert 'href="/help/roles/#content"' in reader.get("/help/", {"q": "role"}).content.decode()
    assert (
        "No guide and no term has one of these words" in reader.get("/help/", {"q": "xyzzy"}).content.decode()
    )
    german = reader.get("/help/storeroom/", headers={"Accept-Language": "de"}).content.decode()
    assert '<article class="written" lang="de">' in german
    assert reader.get("/help/nothing/").status_code == 404


@pytest.mark.parametrize(("name", "language"), FILES)
def test_the_words_of_readers_are_found_and_not_shown(name: str, language: str) -> None:
    parts = load(name, language).text.parts
    assert source(name, language).count("[asked]:") == sum(bool(part.asked) for part in parts)
    assert not any("[asked]" in part.html or "[asked]" in part.words for part in parts)


def test_what_is_not_translated_is_read_in_english() -> None:
    with override("es"):
        assert guide("storeroom").language == "en"
