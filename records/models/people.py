"""People, what they may do on farms and in co-ops, and the tokens of their apps."""

import hashlib
import secrets
from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser, UserManager
from django.contrib.postgres.fields import ArrayField
from django.db import models
from uuid_utils.compat import uuid7

from orchard.access import Area
from records.choices import FarmRoleName, Scope
from records.models.base import FarmOwned, Record, audited
from records.querysets import FarmOwnedQuerySet, TokenQuerySet

TOKEN_PREFIX = "orchard"  # noqa: S105 - a marker that secret scanners can look for
TOKEN_DAYS = 365


class PersonManager(UserManager["Person"]):
    """People sign in by e-mail address, whatever its case."""

    def get_by_natural_key(self, username: str | None) -> "Person":
        return self.get(email__iexact=username)

    def _create_user(
        self, username: str, email: str, password: str | None, **extra: Any
    ) -> "Person":
        person: Person = self.model(email=self.normalize_email(email or username), **extra)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def create_superuser(self, email: str, password: str | None = None, **extra: Any) -> "Person":  # type: ignore[override]  # signs in by e-mail
        return self._create_user("", email, password, is_staff=True, is_superuser=True, **extra)

    def create_user(self, email: str, password: str | None = None, **extra: Any) -> "Person":  # type: ignore[override]  # signs in by e-mail
        return self._create_user("", email, password, **extra)


@audited(farm=None, exclude=("password", "last_login"))
class Person(AbstractUser):
    """Somebody who signs in. A superuser is a platform admin; `is_staff` opens the web admin."""

    id = models.UUIDField(primary_key=True, default=uuid7)
    username = None  # type: ignore[assignment]  # the e-mail address is the name
    first_name = None  # type: ignore[assignment]  # one name field suits every culture
    last_name = None  # type: ignore[assignment]
    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120, blank=True)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = []

    objects: ClassVar[PersonManager] = PersonManager()

    class Meta:
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.name or self.email

    def get_full_name(self) -> str:
        return str(self)

    def get_short_name(self) -> str:
        return str(self)


@audited()
class FarmRole(FarmOwned):
    """What a person may do on a farm."""

    area = Area.PEOPLE

    person = models.ForeignKey(Person, models.CASCADE, related_name="farm_roles")
    role = models.CharField(max_length=10, choices=FarmRoleName)
    ends_on = models.DateField(null=True, blank=True)

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.UniqueConstraint(fields=["person", "farm"], name="farm_role_once_a_person")
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.get_role_display()}"


@audited(farm=None)
class CoOpRole(Record):
    """A person who works for a co-op."""

    area = Area.PEOPLE

    person = models.ForeignKey(Person, models.CASCADE, related_name="co_op_roles")
    co_op = models.ForeignKey("records.CoOp", models.PROTECT, related_name="staff")
    ends_on = models.DateField(null=True, blank=True)

    class Meta(Record.Meta):
        verbose_name = "co-op role"
        constraints = [
            models.UniqueConstraint(fields=["person", "co_op"], name="co_op_role_once_a_person")
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.co_op}"


@audited(farm=None, exclude=("secret_hash", "last_used_at"))
class Token(Record):
    """An app's key to one farm or one co-op. The secret is shown once and kept only as a hash."""

    area = Area.PEOPLE

    farm = models.ForeignKey(
        "records.Farm", models.PROTECT, null=True, blank=True, related_name="+"
    )
    co_op = models.ForeignKey(
        "records.CoOp", models.PROTECT, null=True, blank=True, related_name="+"
    )
    name = models.CharField(max_length=120)
    scopes = ArrayField(models.CharField(max_length=20, choices=Scope))
    secret_hash = models.CharField(max_length=64, editable=False)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True, editable=False)
    created_by = models.ForeignKey(Person, models.SET_NULL, null=True, blank=True, related_name="+")

    objects = TokenQuerySet.as_manager()

    class Meta(Record.Meta):
        constraints = [
            models.CheckConstraint(
                condition=models.Q(farm__isnull=False) ^ models.Q(co_op__isnull=False),
                name="token_of_one_farm_or_one_co_op",
                violation_error_message="A token belongs to one farm or to one co-op.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def issue(self) -> str:
        """A new secret; only its hash stays on the row."""
        secret = secrets.token_urlsafe(32)
        self.secret_hash = hash_secret(secret)
        return f"{TOKEN_PREFIX}_{self.id.hex}_{secret}"


def hash_secret(secret: str) -> str:
    """SHA-256: the secret has 256 random bits, so a slow hash would only slow every request."""
    return hashlib.sha256(secret.encode()).hexdigest()
