"""The season before is settled as co-op staff would: findings, reconciliation, close, payment.

What staff would look at is decided here by a rule of thumb: a sure fix is applied, and the rest is
left open for the reader. The season is closed all the same; what spoke against it is kept with it.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pghistory
from django.db import transaction
from django.utils import timezone

from orchard import clock
from orchard.access import Caller
from orchard.demo.cast import Cast
from planning.choices import DeductionKind, FindingState
from planning.compute.reconciliation import MatchState, compare
from planning.compute.settlement import money
from planning.models import ClosedSeason, Finding, Pool, PoolDeduction, Statement
from planning.queries.reconciliation import Match, Period, matches
from planning.services import settlement
from planning.services.closed_seasons import close_season
from planning.services.finding_decisions import apply
from planning.services.findings import lock_findings
from records.models import CoOp, Farm, Species

STAFF = Caller(name="demo", is_platform_admin=True)
CURRENCY = "EUR"
# Invented, as everything here that is paid or kept back.
PRICES = {"sugar-apple": "2.40", "atemoya": "2.65", "cherimoya": "2.20", "soursop": "1.95"}
KEPT_BACK = (
    ("packing", DeductionKind.PER_KILO, "0.12"),
    ("levy", DeductionKind.PER_CENT, "2.5"),
    ("boxes", DeductionKind.PER_CONTAINER, "0.35"),
)
ADVANCE_TO, ADVANCE = "ZIM", "350.00"
MOST_MATCHES = 10_000


def year_to_settle(cast: Cast) -> int:
    """The year of the last season that has ended for every member."""
    return min(farm.season_of(cast.as_of).year for farm in cast.farms) - 1


def apply_sure_fixes(co_op: CoOp) -> None:
    """Each once: what was decided already is no longer open."""
    for finding in Finding.objects.of_co_op(co_op.pk).filter(state=FindingState.OPEN, sure="high"):
        if finding.fix:
            today = clock.today(finding.farm.time_zone)
            with pghistory.context(by="demo"), transaction.atomic():
                lock_findings(finding.farm_id)
                apply(Finding.objects.get(pk=finding.pk), caller=STAFF, today=today)


def settle(cast: Cast, folder: Path) -> str:
    """Close and pay the season, once; what came of it, printed. Statements go into `folder`."""
    co_op, year = CoOp.objects.get(code=cast.co_op.code), year_to_settle(cast)
    if not ClosedSeason.objects.of_season(co_op.pk, year):
        with pghistory.context(by="demo"), transaction.atomic():
            _close(co_op, year)
            for pool in _pools(co_op, year):
                settlement.issue(pool, by=None, now=timezone.now())
    _write(co_op, folder)
    return "\n".join(
        [
            *_findings(co_op, year),
            *_reconciliation(co_op, year),
            *_closed(co_op, year),
            *_payments(co_op, folder),
        ]
    )


# What is done ------------------------------------------------------------------------------------


def _close(co_op: CoOp, year: int) -> None:
    closing = ClosedSeason(co_op=co_op, season_year=year, note="The demo's.")
    close_season(closing, despite=True, today_in=clock.today)


def _pools(co_op: CoOp, year: int) -> Iterator[Pool]:
    """One a species that has a price and was picked, from July, when no member picks, to June."""
    for species in Species.objects.filter(code__in=PRICES).order_by("code"):
        pool = settlement.save_pool(
            Pool(
                co_op=co_op,
                name=f"{species.common_name} {year}",
                species=species,
                starts_on=dt.date(year, 7, 1),
                ends_on=dt.date(year + 1, 6, 30),
                currency=CURRENCY,
                price_per_kg=Decimal(PRICES[species.code]),
            )
        )
        for what_for, kind, rate in KEPT_BACK:
            settlement.save_deduction(
                PoolDeduction(pool=pool, what_for=what_for, kind=kind, rate=Decimal(rate))
            )
        if settlement.draft(pool).problems:
            pool.delete()  # nobody picked any
        else:
            _advance(pool)
            yield pool


def _advance(pool: Pool) -> None:
    """On the first pool that pays the member who had one."""
    member = Farm.objects.get(code=ADVANCE_TO)
    is_paid = any(each.member == member for each in settlement.draft(pool).statements)
    had = PoolDeduction.objects.filter(pool__co_op=pool.co_op, member=member)
    if is_paid and not had.exists():
        settlement.save_deduction(
            PoolDeduction(
                pool=pool,
                what_for="advance",
                kind=DeductionKind.FIXED,
                rate=Decimal(ADVANCE),
                member=member,
            )
        )


def _write(co_op: CoOp, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for statement in Statement.objects.filter(co_op=co_op).select_related("pool__co_op"):
        text = "\n".join(settlement.printed_statement(statement))
        (folder / f"{statement}.txt".replace(" ", "-")).write_text(f"{text}\n")


# What is printed ---------------------------------------------------------------------------------


def _findings(co_op: CoOp, year: int) -> Iterator[str]:
    yield f"\nFindings, season {year}"
    found = Finding.objects.of_co_op(co_op.pk).filter(season_year=year).select_related("farm")
    for finding in found.order_by("farm__code", "about_on"):
        yield f"  {finding.farm.code}  {finding.state:<9} {finding.sentence}"
    if not found:
        yield "  none"


def _reconciliation(co_op: CoOp, year: int) -> Iterator[str]:
    yield f"\nDeliveries against intakes, season {year}"
    by_farm: dict[str, list[Match]] = defaultdict(list)
    for match in matches(co_op, Period(year=year), limit=MOST_MATCHES):
        by_farm[match.farm_code].append(match)
    for code, found in by_farm.items():
        states = [compare(match.sides).state for match in found]
        counted = ", ".join(f"{states.count(each)} {each}" for each in MatchState if each in states)
        sent = sum(match.sides.sent_g or 0 for match in found) / 1000
        received = sum(match.sides.received_g or 0 for match in found) / 1000
        yield f"  {code}  sent {sent:>10,.1f} kg  received {received:>10,.1f} kg  {counted}"


def _closed(co_op: CoOp, year: int) -> Iterator[str]:
    season = ClosedSeason.objects.of_season(co_op.pk, year)
    yield f"\nSeason {year} is closed, by {season.get_basis_display()}"
    for objection in season.objections:
        yield f"  despite: {objection['text']}"


def _payments(co_op: CoOp, folder: Path) -> Iterator[str]:
    yield f"\nStatements ({folder}); a record and its arithmetic, no money has moved"
    headings = ("Payable kg", "Gross", "Kept back", "To pay")
    yield f"  {'Pool':<18} {'Member':<7}{'No':>3} " + " ".join(f"{each:>12}" for each in headings)
    for one in (
        Statement.objects.filter(co_op=co_op)
        .select_related("pool")
        .order_by("pool__name", "member_code")
    ):
        sums = (one.gross_minor, one.deductions_minor, one.to_pay_minor)
        amounts = " ".join(f"{money(each, one.currency):>12}" for each in sums)
        kilos = f"{one.payable_g / 1000:,.3f}"
        yield f"  {one.pool.name:<18} {one.member_code:<7}{one.number:>3} {kilos:>12} {amounts}"
