"""Who is asking: the rights of a person or a token, loaded once a request."""

import datetime as dt
import hmac
from uuid import UUID

from django.db.models import Q

from orchard.access import (
    CO_OP_EDITS,
    EVERYTHING,
    SHARES,
    STAFF_EDITS,
    Area,
    Caller,
    Rights,
    farm_rights,
    rights,
    scope_rights,
)
from records.models import CoOpRole, FarmRole, Person, Token
from records.models.people import TOKEN_PREFIX, hash_secret

# What membership can give at the most; each member's own terms narrow it in the query.
STAFF = rights(
    reads=SHARES["all"].reads | {Area.PEOPLE, Area.SETTLEMENT},
    writes=STAFF_EDITS | CO_OP_EDITS | {Area.PEOPLE},
)
LAST_USED_STEP = dt.timedelta(minutes=5)


def caller_for_person(person: Person, today: dt.date) -> Caller:
    """A signed-in person with every role that has not ended."""
    current = Q(ends_on__isnull=True) | Q(ends_on__gte=today)
    farm_roles = FarmRole.objects.filter(current, person=person).select_related("farm")
    co_op_roles = CoOpRole.objects.filter(current, person=person)
    return Caller(
        name=str(person),
        person_id=person.pk,
        is_platform_admin=person.is_superuser,
        farms={
            role.farm_id: farm_rights(role.role, adviser_writes=role.farm.adviser_writes)
            for role in farm_roles
        },
        co_ops={role.co_op_id: STAFF for role in co_op_roles},
    )


def caller_for_token(token: Token) -> Caller:
    held = scope_rights(token.scopes)
    farms: dict[UUID, Rights] = {token.farm_id: held & EVERYTHING} if token.farm_id else {}
    co_ops: dict[UUID, Rights] = {token.co_op_id: held & STAFF} if token.co_op_id else {}
    return Caller(name=f"token {token.name}", token_id=token.pk, farms=farms, co_ops=co_ops)


def token_for(secret: str, now: dt.datetime) -> Token | None:
    """The usable token that a bearer string names, with its last use noted now and then."""
    prefix, _, rest = secret.partition("_")
    key, _, hidden = rest.partition("_")
    try:
        token_id = UUID(key)
    except ValueError:
        return None
    if prefix != TOKEN_PREFIX:
        return None
    token: Token | None = next(iter(Token.objects.usable(now).filter(pk=token_id)), None)
    if token is None or not hmac.compare_digest(token.secret_hash, hash_secret(hidden)):
        return None
    if token.last_used_at is None or now - token.last_used_at > LAST_USED_STEP:
        Token.objects.filter(pk=token.pk).update(last_used_at=now)
    return token
