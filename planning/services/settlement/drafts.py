"""What a pool's statements would be if they were issued now. Nothing of it is stored."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from uuid import UUID

from planning.compute.settlement import (
    Deduction,
    DeductionKind,
    Line,
    Terms,
    Totals,
    account_of,
    adjustments,
    gross_by_member,
    in_minor_units,
    money,
    price_of,
    statement_lines,
    totals_of,
)
from planning.models import Pool
from planning.queries.ledgers import (
    deductions_of,
    last_numbers,
    last_statements,
    ledgers_of,
)
from planning.queries.payable import RowsByMember
from planning.services.settlement.problems import Problem, problems_of
from planning.services.settlement.taking import Taken, what_pools_take
from records.models import Farm

Accounts = dict[UUID, list[Line]]


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftStatement:
    """A member's statement as it would be; its lines name pools and earlier statements by id."""

    member: Farm
    number: int
    lines: list[Line]
    totals: Totals


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """Statements in the order of the members' codes; `notes` are what to look at before issuing.

    With problems there are no statements.
    """

    pool: Pool
    statements: list[DraftStatement]
    problems: list[Problem]
    notes: list[str]

    @property
    def totals(self) -> Totals:
        """Of all statements together: what some are paid, and what others carry forward."""
        each = [statement.totals for statement in self.statements]
        return Totals(**{name: sum(getattr(t, name) for t in each) for name in Totals.__slots__})


def draft(pool: Pool) -> Draft:
    """The statements of a pool as of now, in a fixed number of queries for each issued pool."""
    taken = what_pools_take(pool)
    problems = problems_of(pool, taken)
    if problems:
        return Draft(pool=pool, statements=[], problems=problems, notes=[])
    earlier = [other for other in taken.rows if other.currency == pool.currency]
    deductions = deductions_of([pool, *earlier])
    own = _accounts(pool, taken.own, deductions[pool.pk])
    put_right = _adjustments(earlier, taken, deductions)
    statements = list(_statements(pool, own, put_right))
    notes = [
        *_notes_on_balances(statements, pool),
        *_notes_on_containers(taken.own, deductions[pool.pk]),
    ]
    return Draft(pool=pool, statements=statements, problems=[], notes=notes)


# Accounts ----------------------------------------------------------------------------------------


def _accounts(pool: Pool, rows: RowsByMember, kept_back: list[Deduction]) -> Accounts:
    """What each member is due by one pool: of its rows, or of its own advance alone.

    Where all rows have gone, an amount to share has nobody left to go to.
    """
    terms = _terms(pool)
    grams = {str(member): sum(row.grams for row in own) for member, own in rows.items()}
    gross = gross_by_member(terms, grams) if grams else {}
    price = price_of(terms, sum(grams.values()))
    named = {UUID(each.member) for each in kept_back if each.member}
    return {
        member: account_of(
            str(member),
            terms=terms,
            gross_minor=gross.get(str(member), 0),
            price_per_kg=price,
            rows=rows.get(member, []),
            deductions=kept_back,
        )
        for member in {*rows, *named}
    }


def _terms(pool: Pool) -> Terms:
    amount = None if pool.amount is None else in_minor_units(pool.amount, pool.currency)
    return Terms(currency=pool.currency, price_per_kg=pool.price_per_kg, amount_minor=amount)


def _adjustments(
    earlier: Iterable[Pool], taken: Taken, deductions: dict[UUID, list[Deduction]]
) -> Accounts:
    """What puts the statements of earlier pools right, by member."""
    found: Accounts = {}
    for pool in earlier:
        accounts = _accounts(pool, taken.rows[pool], deductions.get(pool.pk, []))
        ledgers = ledgers_of(pool)
        for member in {*accounts, *ledgers}:
            lines = adjustments(
                accounts.get(member, []),
                ledgers.get(member, {}),
                pool=str(pool.pk),
                currency=pool.currency,
            )
            if lines:
                found.setdefault(member, []).extend(lines)
    return found


# Statements --------------------------------------------------------------------------------------


def _statements(pool: Pool, own: Accounts, put_right: Accounts) -> Iterator[DraftStatement]:
    last, numbers = last_statements(pool), last_numbers(pool)
    for member in Farm.objects.filter(pk__in={*own, *put_right}).order_by("code"):
        before = last.get(member.pk)
        lines = statement_lines(
            own.get(member.pk, []),
            put_right.get(member.pk, []),
            carried_in_minor=before.carried_out_minor if before else 0,
            carried_from=str(before.statement) if before else None,
        )
        placed = [replace(line, pool=line.pool or str(pool.pk)) for line in lines]
        yield DraftStatement(
            member=member,
            number=numbers.get(member.pk, 0) + 1,
            lines=placed,
            totals=totals_of(placed),
        )


# What to look at before issuing ------------------------------------------------------------------


def _notes_on_balances(statements: Iterable[DraftStatement], pool: Pool) -> Iterator[str]:
    for each in statements:
        if each.totals.carried_out_minor < 0:
            owed = money(-each.totals.carried_out_minor, pool.currency)
            yield (
                f"{each.member.code}: more is kept back than is due. Nothing is paid, and"
                f" {owed} {pool.currency} are carried forward."
            )


def _notes_on_containers(rows: RowsByMember, deductions: Iterable[Deduction]) -> Iterator[str]:
    if not any(each.kind is DeductionKind.PER_CONTAINER for each in deductions):
        return
    without = sum(row.containers is None for own in rows.values() for row in own)
    if without:
        yield f"{without} lines have no number of containers: nothing per container is kept back."
