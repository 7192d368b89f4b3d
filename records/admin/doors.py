"""Who may see and change what in the web admin: `visible_to` and `writable_by`, nothing else.

Django's own permissions play no part: `is_staff` opens the admin, and the roles that
`orchard.access` knows decide what is in it.
"""

from typing import Any

from django.db.models import Model, QuerySet
from django.http import HttpRequest

from orchard import clock
from orchard.access import Area, Caller
from records.models import Farm, Person
from records.querysets import PersonQuerySet
from records.services.callers import caller_for_person


def caller_of(request: HttpRequest) -> Caller:
    """Who is signed in, with their roles; loaded once a request."""
    noted: Any = request
    if not hasattr(noted, "caller"):
        noted.caller = _caller_for(request.user)
    caller: Caller = noted.caller
    return caller


def _caller_for(user: Any) -> Caller:
    if not user.is_authenticated:
        return Caller(name="nobody")
    return caller_for_person(user, clock.today("UTC"))


def visible(model: type[Model], caller: Caller) -> QuerySet[Any]:
    return _behind("visible_to", model, caller)


def writable(model: type[Model], caller: Caller) -> QuerySet[Any]:
    return _behind("writable_by", model, caller)


def _behind(door: str, model: type[Model], caller: Caller) -> QuerySet[Any]:
    """Rows of a model behind its door; where it has none, platform admins only."""
    rows: QuerySet[Any] = (
        PersonQuerySet(Person) if model is Person else model._default_manager.all()
    )
    if hasattr(rows, door):
        allowed: QuerySet[Any] = getattr(rows, door)(caller)
        return allowed
    return rows if caller.is_platform_admin else rows.none()


def sees_shares(caller: Caller) -> bool:
    """Whether some rows may be shown to the caller by a member's harvest share only."""
    return not caller.is_platform_admin and bool(caller.co_ops)


def may_read_history(caller: Caller, record: Any) -> bool:
    """Whether the record has a history, and the caller reads that of its farm."""
    if not hasattr(record, "events"):
        return False
    farm_id = record.pk if isinstance(record, Farm) else getattr(record, "farm_id", None)
    return caller.is_platform_admin or farm_id in caller.farms_with("reads", Area.HISTORY)
