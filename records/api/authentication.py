"""Bearer tokens for apps, session login for people. Either way `request.auth` is the caller."""

import pghistory
from django.utils import timezone
from rest_framework import authentication, exceptions
from rest_framework.request import Request

from orchard import clock
from orchard.access import Caller
from records.models import Person
from records.services.callers import caller_for_person, caller_for_token, token_for


class App:
    """What DRF calls the user when a token asks."""

    is_authenticated = True
    is_active = True
    pk = None

    def __init__(self, name: str) -> None:
        self.name = name

    def __str__(self) -> str:
        return self.name


class TokenAuthentication(authentication.BaseAuthentication):
    def authenticate(self, request: Request) -> tuple[App, Caller] | None:
        kind, _, secret = request.headers.get("Authorization", "").partition(" ")
        if kind.lower() != "bearer":
            return None
        token = token_for(secret.strip(), timezone.now())
        if token is None:
            raise exceptions.AuthenticationFailed("The token is unknown, expired or revoked.")
        caller = caller_for_token(token)
        pghistory.context(by=caller.name, token=str(token.pk))
        return App(caller.name), caller

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="orchard"'


class SessionAuthentication(authentication.SessionAuthentication):
    """DRF's, with its CSRF check."""

    def authenticate(self, request: Request) -> tuple[Person, Caller] | None:
        found = super().authenticate(request)
        if found is None:
            return None
        person: Person = found[0]
        pghistory.context(by=str(person), person=str(person.pk))
        return person, caller_for_person(person, clock.today("UTC"))
