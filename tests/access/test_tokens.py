"""Apps' tokens: bound, scoped, expiring, shown once, stored hashed, revocable, with last use."""

import datetime as dt
from typing import Any

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from records.models import Token
from records.services.callers import LAST_USED_STEP
from tests.cast import Cast, client_of

PATH = "/api/v1/tokens"


def with_secret(secret: str, scheme: str = "Bearer") -> APIClient:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"{scheme} {secret}")
    return client


@pytest.fixture
def issued(cast: Cast) -> dict[str, Any]:
    """The answer to an owner who asked for a token."""
    body = {"farm": str(cast.ours.farm.pk), "name": "field app", "scopes": ["harvest:read"]}
    answer = client_of(cast.ours.owner).post(PATH, body)
    assert answer.status_code == 201, answer.content
    return dict(answer.json())


def is_let_in(secret: str, scheme: str = "Bearer") -> bool:
    answer = with_secret(secret, scheme).get("/api/v1/me")
    if answer.status_code == 401:
        assert answer["WWW-Authenticate"] == 'Bearer realm="orchard"'
        assert answer.json()["code"] == "not-authenticated"
    return answer.status_code == 200


def test_a_token_lets_its_app_in_and_says_who_it_is(issued: dict[str, Any], cast: Cast) -> None:
    me = with_secret(issued["secret"]).get("/api/v1/me").json()
    assert (me["token"], me["name"]) == (issued["id"], "token field app")
    assert [farm["farm"] for farm in me["farms"]] == [str(cast.ours.farm.pk)]
    assert is_let_in(issued["secret"], scheme="bearer")


def test_the_secret_is_shown_once_and_kept_as_a_hash(issued: dict[str, Any], cast: Cast) -> None:
    client, address = client_of(cast.ours.owner), f"{PATH}/{issued['id']}"
    assert issued["secret"].startswith(f"orchard_{issued['id'].replace('-', '')}_")
    assert client.get(address).json()["secret"] is None
    assert client.patch(address, {"name": "renamed"}).json()["secret"] is None
    hidden = issued["secret"].rpartition("_")[2]
    row = Token.objects.filter(pk=issued["id"]).values().get()
    assert not any(hidden in str(value) for value in row.values())


def test_the_same_create_again_shows_the_token_without_its_secret(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    body = {
        "id": "0198f0aa-0000-7000-8000-000000000001",
        "farm": str(cast.ours.farm.pk),
        "name": "field app",
        "scopes": ["harvest:read"],
    }
    first, second = client.post(PATH, body), client.post(PATH, body)
    assert (first.status_code, second.status_code) == (201, 200)
    assert second.json() == {**first.json(), "secret": None}
    assert is_let_in(first.json()["secret"])


@pytest.mark.parametrize(
    "spoil",
    [
        lambda secret: "",
        lambda secret: secret[:-1],
        lambda secret: secret + "x",
        lambda secret: secret.upper(),
        lambda secret: secret.replace("orchard", "garden"),
        lambda secret: secret.replace("_", "-"),
        lambda secret: "orchard_" + "0" * 32 + "_" + secret.rpartition("_")[2],
        lambda secret: "orchard_nonsense_" + secret.rpartition("_")[2],
        lambda secret: f"{secret} {secret}",
        lambda secret: "orchard__",
    ],
)
def test_a_malformed_or_unknown_token_is_no_credential(spoil: Any, issued: dict[str, Any]) -> None:
    assert not is_let_in(spoil(issued["secret"]))


def test_a_token_counts_nowhere_but_in_its_header(issued: dict[str, Any]) -> None:
    assert not is_let_in(issued["secret"], scheme="Basic")
    assert not is_let_in(issued["secret"], scheme="Token")
    for name in ("token", "access_token", "api_key"):
        assert APIClient().get("/api/v1/me", {name: issued["secret"]}).status_code == 401


def test_an_expired_token_is_no_credential(issued: dict[str, Any], monkeypatch: Any) -> None:
    expiry = dt.datetime.fromisoformat(issued["expires_at"])
    monkeypatch.setattr(timezone, "now", lambda: expiry - dt.timedelta(seconds=1))
    assert is_let_in(issued["secret"])
    monkeypatch.setattr(timezone, "now", lambda: expiry)
    assert not is_let_in(issued["secret"])


def test_a_deleted_token_is_revoked_at_once_and_its_row_stays(
    issued: dict[str, Any], cast: Cast
) -> None:
    client, address = client_of(cast.manager), f"{PATH}/{issued['id']}"
    assert client.delete(address, headers={"If-Match": '"99"'}).status_code == 412
    assert is_let_in(issued["secret"])
    assert client.delete(address).status_code == 204
    assert not is_let_in(issued["secret"])
    revoked_at = client.get(address).json()["revoked_at"]
    assert revoked_at is not None
    assert client.delete(address).status_code == 204
    assert client.get(address).json()["revoked_at"] == revoked_at
    assert client.patch(address, {"name": "again"}).status_code == 422


def test_tokens_are_listed_by_whether_they_are_revoked(issued: dict[str, Any], cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    assert len(client.get(PATH, {"revoked": "false"}).json()["results"]) == 1
    client.delete(f"{PATH}/{issued['id']}")
    assert client.get(PATH, {"revoked": "false"}).json()["results"] == []
    assert len(client.get(PATH, {"revoked": "true"}).json()["results"]) == 1


def test_the_last_use_is_noted_now_and_then(issued: dict[str, Any], monkeypatch: Any) -> None:
    start = timezone.now()
    uses = []
    for step in (0, 1, LAST_USED_STEP.total_seconds() + 1):
        moment = start + dt.timedelta(seconds=step)
        monkeypatch.setattr(timezone, "now", lambda moment=moment: moment)
        assert is_let_in(issued["secret"])
        uses.append(Token.objects.get(pk=issued["id"]).last_used_at)
    assert uses == [start, start, moment]
    assert Token.objects.get(pk=issued["id"]).version == issued["version"] + 2


@pytest.mark.parametrize(
    ("change", "status", "pointer"),
    [
        ({"scopes": ["everything"]}, 400, "/scopes/0"),
        ({"scopes": []}, 400, "/scopes"),
        ({"scopes": None}, 400, "/scopes"),
        ({"expires_at": "2000-01-01T00:00:00Z"}, 422, "/expires_at"),
        ({"expires_at": "2999-01-01T00:00:00Z"}, 422, "/expires_at"),
        ({"expires_at": "soon"}, 400, "/expires_at"),
        ({"farm": None}, 422, "/farm"),  # neither a farm's nor a co-op's
        ({"last_used_at": "2026-01-01T00:00:00Z"}, 400, "/last_used_at"),
        ({"secret": "mine"}, 400, "/secret"),
    ],
)
def test_what_a_token_cannot_be(
    change: dict[str, Any], status: int, pointer: str, cast: Cast
) -> None:
    body = {"farm": str(cast.ours.farm.pk), "name": "app", "scopes": ["harvest:read"], **change}
    answer = client_of(cast.ours.owner).post(PATH, body)
    assert answer.status_code == status
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]
    assert not Token.objects.exists()


def test_a_token_is_of_one_farm_or_one_co_op_and_not_of_both(cast: Cast) -> None:
    body = {"name": "app", "scopes": ["harvest:read"], "co_op": str(cast.co_op.pk)}
    both = {**body, "farm": str(cast.ours.farm.pk)}
    assert client_of(cast.admin).post(PATH, both).status_code == 422
    assert client_of(cast.staff).post(PATH, body).status_code == 201


@pytest.mark.parametrize("field", ["scopes", "expires_at", "farm", "co_op"])
def test_what_a_token_may_do_never_changes(field: str, issued: dict[str, Any], cast: Cast) -> None:
    values = {
        "scopes": ["records:write"],
        "expires_at": (timezone.now() + dt.timedelta(days=2)).isoformat(),
        "farm": str(cast.neighbour.farm.pk),
        "co_op": str(cast.co_op.pk),
    }
    answer = client_of(cast.admin).patch(f"{PATH}/{issued['id']}", {field: values[field]})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == f"/{field}"


@pytest.mark.parametrize(
    ("who", "of", "status"),
    [
        ("staff", "co_op", 201),
        ("staff", "farm", 403),  # a member's own apps are the member's business
        ("manager", "farm", 201),
        ("manager", "co_op", 403),  # a member sees its co-op, and does not speak for it
        ("worker", "farm", 403),
        ("adviser", "farm", 403),
    ],
)
def test_who_may_issue_a_token_of_what(who: str, of: str, status: int, cast: Cast) -> None:
    owner = cast.co_op if of == "co_op" else cast.ours.farm
    body = {of: str(owner.pk), "name": "app", "scopes": ["harvest:read"]}
    assert client_of(getattr(cast, who)).post(PATH, body).status_code == status
    assert Token.objects.exists() is (status == 201)


def test_a_token_issues_no_tokens(issued: dict[str, Any], cast: Cast) -> None:
    body = {"farm": str(cast.ours.farm.pk), "name": "more", "scopes": ["records:write"]}
    answer = with_secret(issued["secret"]).post(PATH, body)
    assert (answer.status_code, answer.json()["code"]) == (403, "insufficient-scope")


def test_a_new_token_expires_within_a_year(issued: dict[str, Any]) -> None:
    left = dt.datetime.fromisoformat(issued["expires_at"]) - timezone.now()
    assert dt.timedelta(days=364) < left <= dt.timedelta(days=365)
