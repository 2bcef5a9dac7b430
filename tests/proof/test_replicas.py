"""A primary and its streaming replica, both real: who answers what while the replica lags, stops and is promoted.

Proves: reads that may be a moment old come from the replica; what follows one's own write does not, for tokens and for
sessions; a replica that stands still, is stopped or was promoted is left out, said in `readyz`, and comes back by itself; after
the primary is lost and the replica promoted, what was acknowledged is there once, also where clients send it again.
Does not prove: two machines with different clocks, a network that loses packets, asynchronous loss of the last commits.
"""

import shutil
from collections.abc import Iterator

import psycopg
import pytest
from django.contrib.auth.models import User
from django.contrib.sessions.backends.db import SessionStore

from api.models import digest
from tests.proof.cluster import Cluster
from tests.proof.conftest import Prepared
from tests.proof.service import Service, number_of

pytestmark = pytest.mark.postgresql
LAG_SECONDS = 5
"""More than a few requests take on a busy machine: within it the replica has to be read from."""
READER = "the-token-of-somebody-who-only-reads"
ITEM = "/api/v1/items/?stock_number=SPR-1"
DESCRIBE = "UPDATE inventory_item SET description = %s WHERE stock_number = 'SPR-1'"


@pytest.fixture(scope="module")
def database(prepared: Prepared) -> str:
    url = prepared.copy("replicated")
    run(
        url,
        "INSERT INTO api_accesstoken (name, role, digest, prefix, scopes, created_at, last_used_at) "
        "VALUES ('reader', 'viewer', %s, '', '[]', now(), now())",
        digest(READER),
    )
    return url


@pytest.fixture(scope="module")
def replica(cluster: Cluster, database: str) -> Iterator[Cluster]:
    folder = cluster.folder.with_name(f"{cluster.folder.name}-r")
    folder.mkdir()
    server = Cluster(folder, cluster.programs, primary=cluster)
    server.start()
    yield server
    server.stop()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="module")
def service(database: str, replica: Cluster, prepared: Prepared) -> Iterator[Service]:
    """One process, so that what it noted a moment ago is what the next request finds."""
    url = replica.url("replicated")
    one = Service(database, prepared.token, DATABASE_REPLICA_URL=url, REPLICA_LAG_SECONDS=str(LAG_SECONDS))
    one.start(workers=1)
    yield one
    one.kill()


def run(url: str, sql: str, *values: object) -> None:
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(sql.encode(), values)


def state(service: Service) -> str:
    (one,) = service.get("/readyz", auth=False).json["replicas"]
    return str(one["state"])


def described(service: Service) -> str:
    """As somebody reads it who has written nothing."""
    (item,) = service.get(ITEM, auth=False, Authorization=f"Bearer {READER}").json["results"]
    return str(item["description"])


@pytest.fixture
def standing_still(service: Service, replica: Cluster) -> Iterator[None]:
    """The replica is read from, and from now on replays nothing."""
    service.wait_until(lambda: state(service) == "used")
    run(replica.url(), "SELECT pg_wal_replay_pause()")
    yield
    run(replica.url(), "SELECT pg_wal_replay_resume()")


def test_what_may_be_old_comes_from_the_replica_until_it_is_too_old(
    service: Service, database: str, standing_still: None
) -> None:
    before = described(service)
    run(database, DESCRIBE, "newer")
    assert described(service) == before != "newer"
    service.wait_until(lambda: described(service) == "newer")
    assert state(service) == "behind"


def test_a_replica_that_catches_up_is_read_from_again(
    service: Service, database: str, replica: Cluster
) -> None:
    service.wait_until(lambda: state(service) == "used")
    run(replica.url(), "SELECT pg_wal_replay_pause()")
    run(database, DESCRIBE, "newest")
    assert described(service) == "newer"
    run(replica.url(), "SELECT pg_wal_replay_resume()")


def test_a_token_reads_its_own_write(service: Service, database: str, standing_still: None) -> None:
    stale = service.on_hand()
    assert service.move("receipt", "own-1").status == 201
    assert service.on_hand() == stale + 1
    assert state(service) == "used"
    assert service.movements() == number_of(database, "SELECT count(*) FROM inventory_stockentry")


def signed_in(database: str) -> dict[str, str]:
    """Headers of a browser: a user who may do everything, and the token of the forms."""
    user = User(pk=900, username="storekeeper", password="!nobody-knows")
    run(
        database,
        "INSERT INTO auth_user (id, username, password, is_superuser, is_staff, is_active, first_name, last_name, email, "
        "date_joined) VALUES (900, %s, %s, true, false, true, '', '', '', now())",
        user.username,
        user.password,
    )
    store = SessionStore()
    data = {
        "_auth_user_id": "900",
        "_auth_user_backend": "api.edge.auth.PlantBackend",
        "_auth_user_hash": user.get_session_auth_hash(),
    }
    run(
        database,
        "INSERT INTO django_session (session_key, session_data, expire_date) VALUES ('of-the-proof', %s, now() + interval '1 day')",
        store.encode(data),
    )
    return {"Cookie": f"sessionid=of-the-proof; csrftoken={'c' * 32}", "X_CSRFToken": "c" * 32}


def test_a_browser_reads_its_own_write_and_another_one_does_not_wait_for_it(
    service: Service, database: str, standing_still: None
) -> None:
    browser = signed_in(database)
    stale = on_hand(service, browser)
    receipt = {"kind": "receipt", "item": "SPR-1", "storeroom": "MAIN", "quantity": 1}
    written = service.ask(
        "POST", "/api/v1/movements/", receipt, auth=False, Idempotency_Key="own-2", **browser
    )
    assert written.status == 201, written.body
    assert on_hand(service, browser) == stale
    position = written.headers["Set-Cookie"].partition(";")[0]
    assert position.startswith("written=")
    browser["Cookie"] += f"; {position}"
    assert on_hand(service, browser) == stale + 1
    assert state(service) == "used"


def on_hand(service: Service, browser: dict[str, str]) -> int:
    answer = service.get("/api/v1/stock/?item=SPR-1&storeroom=MAIN", auth=False, **browser)
    return int(answer.json["results"][0]["on_hand"])


def test_a_stopped_replica_is_left_out_and_comes_back_by_itself(
    service: Service, database: str, replica: Cluster
) -> None:
    service.wait_until(lambda: state(service) == "used")
    replica.stop()
    assert service.get(ITEM).status == 200
    assert state(service) == "stopped"
    run(database, DESCRIBE, "while it was away")
    assert described(service) == "while it was away"
    replica.start()
    service.wait_until(lambda: state(service) == "used")
    run(replica.url(), "SELECT pg_wal_replay_pause()")
    run(database, DESCRIBE, "after it came back")
    assert described(service) == "while it was away"
    run(replica.url(), "SELECT pg_wal_replay_resume()")


def test_nothing_is_lost_or_doubled_when_the_replica_takes_over(
    service: Service, cluster: Cluster, replica: Cluster, prepared: Prepared
) -> None:
    acknowledged = [key for key in map(str, range(10)) if service.move("receipt", key).status == 201]
    before = service.on_hand()
    service.wait_until(lambda: state(service) == "used")
    cluster.stop("immediate")
    try:
        # Nobody knows whether it was booked: there is no answer that says so.
        assert service.move("receipt", "unanswered").status == 503
        assert service.get("/readyz", auth=False).status == 503
        replica.promote()
        url = replica.url("replicated")
        taken_over = Service(url, prepared.token)
        try:
            taken_over.start(workers=1)
            again = [taken_over.move("receipt", key) for key in [*acknowledged, "unanswered", "unanswered"]]
            assert {answer.status for answer in again} == {201}
            replayed = [answer.headers.get("Idempotency-Replayed") for answer in again]
            assert replayed == ["true"] * 10 + [None, "true"]
            assert taken_over.on_hand() == before + 1
        finally:
            taken_over.kill()
        assert number_of(url, "SELECT sum(change) FROM inventory_stockentry") == before + 1
    finally:
        cluster.start()


def test_a_promoted_replica_is_read_from_by_nobody(service: Service, database: str, replica: Cluster) -> None:
    """The old primary came back beside it: both take writes, and only one is the primary of this service."""
    run(replica.url("replicated"), DESCRIBE, "of the other one")
    service.wait_until(lambda: described(service) != "")
    assert state(service) == "promoted"
    assert described(service) == "after it came back"
