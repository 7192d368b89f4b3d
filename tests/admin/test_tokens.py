"""Tokens: the secret is shown once and only its hash is kept; nothing but revoking comes later."""

import datetime as dt
import re

import pytest
from django.db import connection
from django.test import Client

from records.models import Token
from records.models.people import hash_secret
from tests.admin.pages import add_to, faults, list_of, page_of, row_of, sent, text_of
from tests.cast import Cast

SECRET = re.compile(r"orchard_[0-9a-f]{32}_([\w-]{43})")


def issue(client: Client, **values: object) -> str:
    """Make a token of a farm; what the page after it says."""
    answer = sent(client, add_to(Token), **{"name": "shed display", **values})
    assert answer.status_code == 302
    return text_of(client.get(answer["Location"]))


def test_the_secret_is_shown_once_and_opens_the_api(admin: Client, cast: Cast) -> None:
    shown = issue(admin, farm=str(cast.ours.farm.pk), scopes=["harvest:read"])
    secret = SECRET.search(shown)
    assert secret is not None
    again = [list_of(Token), page_of(Token.objects.get()), page_of(Token.objects.get(), "history")]
    assert not any(SECRET.search(admin.get(each).content.decode()) for each in again)

    answer = Client().get("/api/v1/farms", headers={"Authorization": f"Bearer {secret[0]}"})
    assert [farm["code"] for farm in answer.json()["results"]] == ["OURS"]


def test_only_a_hash_of_the_secret_is_stored(admin: Client, cast: Cast) -> None:
    found = SECRET.search(issue(admin, farm=str(cast.ours.farm.pk), scopes=["harvest:read"]))
    assert found is not None
    token = Token.objects.get()
    assert token.secret_hash == hash_secret(found[1])
    assert token.created_by == cast.admin
    with connection.cursor() as cursor:
        cursor.execute("SELECT t::text FROM records_token t")
        rows = cursor.fetchall()
        cursor.execute("SELECT t::text FROM records_tokenevent t")
        rows += cursor.fetchall()
    assert not any(found[1] in row for (row,) in rows)


def test_a_token_is_never_edited_or_deleted(admin: Client, cast: Cast) -> None:
    token = row_of(Token, cast.ours)
    assert admin.post(page_of(token), {"name": "other"}).status_code == 403
    assert admin.post(page_of(token, "delete"), {"post": "yes"}).status_code == 403
    assert Token.objects.get().name == token.name


def test_a_revoked_token_opens_nothing(admin: Client, cast: Cast) -> None:
    found = SECRET.search(issue(admin, farm=str(cast.ours.farm.pk), scopes=["harvest:read"]))
    assert found is not None
    body = {"action": "revoke", "_selected_action": [str(Token.objects.get().pk)]}
    answer = admin.post(list_of(Token), body, follow=True)
    assert "Tokens revoked: 1." in text_of(answer)
    answer = Client().get("/api/v1/farms", headers={"Authorization": f"Bearer {found[0]}"})
    assert answer.status_code == 401


def test_a_farmer_makes_tokens_of_the_own_farm(owner: Client, cast: Cast) -> None:
    assert SECRET.search(issue(owner, farm=str(cast.ours.farm.pk), scopes=["harvest:read"]))
    theirs = {"farm": str(cast.neighbour.farm.pk), "scopes": ["harvest:read"], "name": "x"}
    assert "farm" in faults(sent(owner, add_to(Token), **theirs))


def test_staff_make_tokens_of_their_co_op(staff: Client, cast: Cast) -> None:
    assert SECRET.search(issue(staff, co_op=str(cast.co_op.pk), scopes=["harvest:read"]))


def test_seeing_a_farm_or_co_op_is_not_enough_for_a_token_of_it(
    owner: Client, staff: Client, cast: Cast
) -> None:
    values = {"name": "x", "scopes": ["harvest:read"]}
    of_member = sent(staff, add_to(Token), farm=str(cast.ours.farm.pk), **values)
    assert list(faults(of_member)) == ["farm"]
    of_co_op = sent(owner, add_to(Token), co_op=str(cast.co_op.pk), **values)
    assert list(faults(of_co_op)) == ["co_op"]


def test_another_farms_token_is_not_revoked(owner: Client, cast: Cast) -> None:
    token = row_of(Token, cast.neighbour)
    owner.post(list_of(Token), {"action": "revoke", "_selected_action": [str(token.pk)]})
    token.refresh_from_db()
    assert token.revoked_at is None


@pytest.mark.parametrize(
    ("values", "field"),
    [
        # Of nothing.
        ({"farm": ""}, "__all__"),
        # Of a farm and a co-op at once.
        ({"co_op": "ours"}, "__all__"),
        # No scope.
        ({"scopes": []}, "scopes"),
        # A scope that does not exist.
        ({"scopes": ["everything"]}, "scopes"),
        # Expired from the start.
        ({"expires_at_0": "2020-01-01"}, "expires_at"),
        # For ever.
        ({"expires_at_0": "2199-01-01"}, "expires_at"),
    ],
)
def test_a_wrong_token_is_refused(
    admin: Client, cast: Cast, values: dict[str, object], field: str
) -> None:
    body = {
        "farm": str(cast.ours.farm.pk),
        "name": "shed display",
        "scopes": ["harvest:read"],
        "expires_at_0": (dt.date.today() + dt.timedelta(days=30)).isoformat(),
        "expires_at_1": "12:00:00",
        **values,
    }
    if "co_op" in values:
        body["co_op"] = str(cast.co_op.pk)
    assert list(faults(admin.post(add_to(Token), body))) == [field]
    assert not Token.objects.exists()
