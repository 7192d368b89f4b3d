"""The sheet of people: an invitation each, never a password."""

from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone

from records.importing.farm_workbooks.reading import Entry
from records.importing.farm_workbooks.run import NOT_ALLOWED, Run, check
from records.models import CoOp, CoOpRole, Farm, FarmRole, Invitation
from records.services import invitations

COLUMNS = {"email": "e-mail", "name": "name", "role": "role", "farm": "farm", "co_op": "co-op"}
STAFF = "staff"


def load_person(run: Run, entry: Entry) -> None:
    if not run.has_all(entry, "e-mail"):
        return
    place = run.co_op_of(entry) if entry.text("co-op") else run.farm_of(entry)
    if place is None or not _has_role(run, entry, place):
        return
    email = entry.text("e-mail")
    if not run.is_first(entry, "e-mail", place.pk, email.casefold()):
        return
    role = "" if isinstance(place, CoOp) else entry.text("role")
    known = _known_role(place, email)
    if known is None:
        _invite(run, entry, place, role)
    elif known == role:
        run.made[entry.kind]["unchanged"] += 1
    else:
        text = (
            f"{email} is {known} there, or invited as that. Change the role where roles are kept."
        )
        run.refuse(entry, "role", "other-role", text)


def _has_role(run: Run, entry: Entry, place: Farm | CoOp) -> bool:
    """Staff in a co-op; on a farm any other role, which must be given."""
    role = entry.text("role")
    if isinstance(place, CoOp):
        if entry.text("farm"):
            run.refuse(entry, "farm", "farm-and-co-op", "Name a farm or a co-op, on a line each.")
        elif role in ("", STAFF):
            return True
        else:
            run.refuse(entry, "role", "not-in-a-co-op", "In a co-op people are staff.")
        return False
    if role == STAFF:
        run.refuse(entry, "role", "not-on-a-farm", "Staff belong to a co-op: name it.")
        return False
    return run.has_all(entry, "role")


def _known_role(place: Farm | CoOp, email: str) -> str | None:
    """What the person is there, or is invited to be; None if nothing yet."""
    roles: Any = (
        FarmRole.objects.filter(farm=place).values_list("role", flat=True)
        if isinstance(place, Farm)
        else CoOpRole.objects.filter(co_op=place).values_list("co_op__basis", flat=True)
    )
    held = roles.filter(person__email__iexact=email).first()
    if held is not None:
        return str(held) if isinstance(place, Farm) else ""
    open_ones = Invitation.objects.open_at(timezone.now()).filter(email__iexact=email)
    where = {"farm": place} if isinstance(place, Farm) else {"co_op": place}
    role: str | None = open_ones.filter(**where).values_list("role", flat=True).first()
    return role


def _invite(run: Run, entry: Entry, place: Farm | CoOp, role: str) -> None:
    invitation = Invitation(
        farm=place if isinstance(place, Farm) else None,
        co_op=place if isinstance(place, CoOp) else None,
        role=role,
        name=entry.text("name"),
        email=entry.text("e-mail"),
        expires_at=invitations.default_expiry(),
        created_by_id=run.caller.person_id,
    )
    try:
        check(invitation, besides=["secret_hash"])
    except ValidationError as error:
        run.refuse_all(entry, error, COLUMNS)
        return
    link = invitations.invite(invitation)
    if not Invitation.objects.all().writable_by(run.caller).filter(pk=invitation.pk).exists():
        text = "You may not invite this person there. Staff of a co-op invite a new farm's owner."
        run.refuse(entry, "role", NOT_ALLOWED, text)
        return
    run.invited.append((invitation, link))
    run.made[entry.kind]["created"] += 1
