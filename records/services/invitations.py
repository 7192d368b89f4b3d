"""People join by invitation: made, mailed, accepted once, revoked, sent anew."""

import datetime as dt
import hmac
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from orchard import clock
from records.choices import FarmRoleName
from records.models import CoOpRole, FarmRole, Invitation, Person
from records.models.invitations import INVITATION_DAYS, MAX_INVITATION_DAYS
from records.models.people import hash_secret
from records.querysets import InvitationQuerySet
from records.services import jobs, mail, saving

MAIL = "invitation-mail"
# Whose work is partly done in the web admin.
ADMIN_ROLES = frozenset({"", FarmRoleName.OWNER, FarmRoleName.MANAGER})


class NotJoinedError(Exception):
    """The link holds, but does not help this person; the text says why."""


def link_of(key: str) -> str:
    return f"{settings.PUBLIC_ORIGIN}/join/{key}"


def default_expiry() -> dt.datetime:
    return timezone.now() + dt.timedelta(days=INVITATION_DAYS)


def may_expire_at(moment: dt.datetime) -> bool:
    now = timezone.now()
    return now < moment <= now + dt.timedelta(days=MAX_INVITATION_DAYS)


@transaction.atomic
def invite(invitation: Invitation) -> str:
    """Store an invitation that is new or gets a new secret; its link, which is not kept."""
    key = invitation.issue()
    saving.save(invitation)
    if will_be_mailed(invitation):
        jobs.enqueue(MAIL, str(invitation.pk))
        jobs.wake()
    return link_of(key)


@transaction.atomic
def resend(invitation: Invitation) -> str:
    """A new link in place of the old one, for as long again. NotJoinedError if it is used up."""
    found = Invitation.objects.select_for_update().get(pk=invitation.pk)
    if found.accepted_at or found.revoked_at:
        raise NotJoinedError("The invitation was accepted or revoked; make another.")
    found.expires_at = max(found.expires_at, default_expiry())
    found.mailed_at = None
    return invite(found)


def revoke(invitations: InvitationQuerySet) -> int:
    """End invitations that nobody has accepted; how many there were."""
    return invitations.filter(accepted_at=None, revoked_at=None).update(revoked_at=timezone.now())


def will_be_mailed(invitation: Invitation) -> bool:
    return bool(invitation.email) and mail.is_set_up()


def delivery(invitation: Invitation) -> str:
    """How the link reaches the person, for whoever made it."""
    if will_be_mailed(invitation):
        return f"The link is mailed to {invitation.email}. You may also hand it over yourself."
    if invitation.email:
        return "No mail server is set up: copy the link and hand it over yourself."
    return "Copy the link and hand it over yourself."


def send_mail(invitation_id: UUID) -> None:
    """Mail the link, with a secret that is made now; a second try makes another."""
    with transaction.atomic():
        rows = Invitation.objects.open_at(timezone.now()).select_for_update(of=("self",))
        found = rows.select_related("farm", "co_op").filter(pk=invitation_id).first()
        if found is None or not will_be_mailed(found):
            return
        link = link_of(found.issue_for_mail())
        found.save()
    mail.send(
        found.email,
        f"You are invited to {place_of(found)}",
        "pages/invitation_mail.txt",
        invitation=found,
        place=place_of(found),
        link=link,
    )
    Invitation.objects.filter(pk=found.pk).update(mailed_at=timezone.now())


def place_of(invitation: Invitation) -> str:
    place = invitation.farm or invitation.co_op
    return str(place.name)


# Accepting ---------------------------------------------------------------------------------------


def find_open(key: str, *, lock: bool = False) -> Invitation | None:
    """The invitation that a link opens; None for an unknown, used, revoked or expired one."""
    ident, _, secret = key.partition("-")
    try:
        invitation_id = UUID(ident)
    except ValueError:
        return None
    rows = Invitation.objects.open_at(timezone.now()).select_related("farm", "co_op")
    if lock:
        rows = rows.select_for_update(of=("self",))
    found: Invitation | None = rows.filter(pk=invitation_id).first()
    return found if found is not None and _holds(found, secret) else None


def _holds(invitation: Invitation, secret: str) -> bool:
    hashed = hash_secret(secret)
    known = (invitation.secret_hash, invitation.mailed_hash)
    return any(hmac.compare_digest(each, hashed) for each in known)


@transaction.atomic
def join(key: str, person: Person) -> Invitation | None:
    """Give a person the role that a link offers, and use it up; None if it opens nothing.

    NotJoinedError if the person has a role there already: the link stays good for another.
    """
    invitation = find_open(key, lock=True)
    if invitation is None:
        return None
    _give_role(invitation, person)
    if invitation.role in ADMIN_ROLES and not person.is_staff:
        person.is_staff = True
        saving.save(person)
    invitation.accepted_at, invitation.accepted_by = timezone.now(), person
    saving.save(invitation)
    return invitation


@transaction.atomic
def join_as_new_person(key: str, *, email: str, name: str, password: str) -> Person | None:
    """Make an account and join with it; None if the link opens nothing."""
    if find_open(key, lock=True) is None:
        return None
    person: Person = Person.objects.create_user(email, password, name=name)
    join(key, person)
    return person


def _give_role(invitation: Invitation, person: Person) -> None:
    today = clock.today(invitation.farm.time_zone if invitation.farm else "UTC")
    fresh = (
        FarmRole(person=person, farm=invitation.farm)
        if invitation.farm
        else CoOpRole(person=person, co_op=invitation.co_op)
    )
    role = _role(fresh, today)
    if isinstance(role, FarmRole):
        role.role = invitation.role
    role.ends_on = None
    saving.save(role)


def _role(fresh: FarmRole | CoOpRole, today: dt.date) -> FarmRole | CoOpRole:
    """A role to be given: the one that has ended, if the person had one before."""
    where = (
        {"farm_id": fresh.farm_id} if isinstance(fresh, FarmRole) else {"co_op_id": fresh.co_op_id}
    )
    held = type(fresh).objects.filter(person_id=fresh.person_id, **where).first()
    if held is not None and (held.ends_on is None or held.ends_on >= today):
        raise NotJoinedError(f"You belong to {place_named(held)} already.")
    return held or fresh


def place_named(role: FarmRole | CoOpRole) -> str:
    return str((role.farm if isinstance(role, FarmRole) else role.co_op).name)
