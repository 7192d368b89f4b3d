"""Alerts, and what people do about them."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum


class AlertError(ValueError):
    """The settings or facts contradict themselves."""


class AlertKind(StrEnum):
    OPENING_SOON = "opening-soon"
    DUE = "due"
    OVERDUE = "overdue"
    MISSED = "missed"
    BLOOM_EARLY = "bloom-early"
    BLOOM_LATE = "bloom-late"
    FROST = "frost"
    DRY_HEAT = "dry-heat"
    SHORT_CREW = "short-crew"


# Kinds that are about a task; the others are about a block or the farm.
ABOUT_TASKS = (AlertKind.OPENING_SOON, AlertKind.DUE, AlertKind.OVERDUE, AlertKind.MISSED)


class AlertState(StrEnum):
    """Active alerts are to be told; snoozed and acknowledged ones stand without being told."""

    ACTIVE = "active"
    SNOOZED = "snoozed"
    ACKNOWLEDGED = "acknowledged"


@dataclass(frozen=True, slots=True, kw_only=True)
class Handling:
    """What people did about alerts.

    Alerts about one subject are snoozed up to the day before the one given by its key. One alert
    is acknowledged, by its own key: the next fact about the subject is told again.
    """

    snoozed_until: Mapping[str, date] = field(default_factory=dict)
    acknowledged: Collection[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Alert:
    """One fact that holds today; `about` is the day that it is about.

    `subject` is the key of what it is about: of a `task`, else of a block's bloom, or of the farm.
    """

    key: str
    subject: str
    task: str | None
    block: str | None
    season_year: int | None
    kind: AlertKind
    about: date
    state: AlertState
    message: str
    reason: str
    assigned_to: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """What holds about a block, or about the farm where no block is named."""

    subject: str
    block: str | None
    season_year: int | None
    kind: AlertKind
    about: date
    message: str
    reason: str


def alert_of(fact: Fact, handling: Handling, *, today: date) -> Alert:
    """The alert of a fact that is about no task."""
    key = f"{fact.subject}:{fact.kind}:{fact.about.isoformat()}"
    return Alert(
        key=key,
        subject=fact.subject,
        task=None,
        block=fact.block,
        season_year=fact.season_year,
        kind=fact.kind,
        about=fact.about,
        state=state_of(key, fact.subject, handling, today),
        message=fact.message,
        reason=fact.reason,
    )


def state_of(key: str, subject: str, handling: Handling, today: date) -> AlertState:
    if key in handling.acknowledged:
        return AlertState.ACKNOWLEDGED
    snoozed_until = handling.snoozed_until.get(subject)
    is_snoozed = snoozed_until is not None and today < snoozed_until
    return AlertState.SNOOZED if is_snoozed else AlertState.ACTIVE


def told_on(day: date) -> str:
    return f"{day.day} {day:%B}"
