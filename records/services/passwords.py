"""New passwords: by mail for oneself, or by a link that somebody entitled copies."""

from uuid import UUID

from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from orchard.access import Area, Caller
from records.models import Person
from records.services import jobs, mail

MAIL = "password-mail"


def request_reset(email: str) -> None:
    """Have a link mailed to whoever has this address, if anybody does."""
    for person in Person.objects.filter(email__iexact=email, is_active=True):
        jobs.enqueue(MAIL, str(person.pk))
    jobs.wake()


def send_mail(person_id: UUID) -> None:
    person = Person.objects.filter(pk=person_id, is_active=True).first()
    if person is not None and mail.is_set_up():
        mail.send(
            person.email,
            "A new password",
            "pages/password_mail.txt",
            person=person,
            link=link_for(person),
            days=settings.PASSWORD_RESET_TIMEOUT // 86_400,
        )


def link_for(person: Person) -> str:
    """A link to choose a new password: it works once, and no longer after signing in."""
    where = reverse(
        "password_reset_confirm",
        args=[
            urlsafe_base64_encode(force_bytes(person.pk)),
            default_token_generator.make_token(person),
        ],
    )
    return f"{settings.PUBLIC_ORIGIN}{where}"


def may_reset(caller: Caller, person: Person) -> bool:
    """Platform admins; else whoever says who works at every place that the person belongs to.

    An account opens all its places, so no single one of them may hand it over.
    """
    if caller.is_platform_admin:
        return True
    if person.is_superuser or not person.is_active:
        return False
    farms = set(person.farm_roles.values_list("farm_id", flat=True))
    co_ops = set(person.co_op_roles.values_list("co_op_id", flat=True))
    return (
        bool(farms or co_ops)
        and farms <= set(caller.farms_with("writes", Area.PEOPLE))
        and co_ops <= set(caller.co_ops_with("writes", Area.PEOPLE))
    )
