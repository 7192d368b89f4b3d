"""Rules of pools and their deductions as people write them."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction

from planning.choices import DeductionKind
from planning.compute.settlement import SettlementError, decimals_of, is_whole_minor
from planning.models import Pool, PoolDeduction, PoolGrade
from planning.services.settlement.locking import lock_settlement
from records.models import CoOpGrade, Membership
from records.services.saving.faults import fault

# What an issued pool keeps: statements say what it paid for.
KEPT = ("co_op_id", "name", "species_id", "cultivar_id", "starts_on", "ends_on", "currency")


@transaction.atomic
def save_pool(pool: Pool, grades: Sequence[CoOpGrade] | None = None) -> Pool:
    """Store a pool and the grades it pays for (None: as they are).

    An issued pool may still change its price or amount, which the next statements put right.
    """
    lock_settlement(pool.co_op_id)
    stored = Pool.objects.filter(pk=pool.pk).first()
    if stored is not None and stored.is_issued:
        _check_kept(pool, stored, grades)
    _check_currency(pool)
    _check_payable("amount", pool.amount, pool.currency)
    for grade in grades or ():
        _check_grade(pool, grade)
    pool.save(force_insert=stored is None)
    if grades is not None:
        _set_grades(pool, grades)
    return pool


@transaction.atomic
def save_deduction(deduction: PoolDeduction) -> PoolDeduction:
    """Store a deduction; of an issued pool, it is put right on the next statements."""
    pool, member = deduction.pool, deduction.member
    lock_settlement(pool.co_op_id)
    if deduction.kind == DeductionKind.FIXED:
        _check_payable("rate", deduction.rate, pool.currency)
    joined = Membership.objects.filter(co_op_id=pool.co_op_id, farm=member)
    if member is not None and not joined.exists():
        raise fault("member", f"{member.code} is no member of the co-op.", "no-member")
    deduction.save(force_insert=deduction._state.adding)
    return deduction


def _check_currency(pool: Pool) -> None:
    try:
        decimals_of(pool.currency)
    except SettlementError as error:
        raise fault("currency", str(error), "unknown-currency") from None


def _check_kept(pool: Pool, stored: Pool, grades: Sequence[CoOpGrade] | None) -> None:
    changed = [name for name in KEPT if getattr(pool, name) != getattr(stored, name)]
    if grades is not None and {grade.pk for grade in grades} != _grade_ids(stored):
        changed.append("grades")
    if changed:
        field = changed[0].removesuffix("_id")
        raise fault(field, "This cannot change once the pool is issued.", "fixed")


def _grade_ids(pool: Pool) -> set[Any]:
    return set(pool.grade_links.values_list("co_op_grade_id", flat=True))


def _check_payable(field: str, amount: Decimal | None, currency: str) -> None:
    if amount is not None and not is_whole_minor(Decimal(amount), currency):
        text = f"{currency} has {decimals_of(currency)} decimals, so this cannot be paid."
        raise fault(field, text, "not-payable")


def _check_grade(pool: Pool, grade: CoOpGrade) -> None:
    if grade.co_op_id != pool.co_op_id:
        raise fault("grades", f"{grade.code} is a grade of another co-op.", "other-co-op")
    if not grade.is_marketable:
        raise fault("grades", f"{grade.code} is not marketable, so none of it is paid.", "cull")


def _set_grades(pool: Pool, grades: Sequence[CoOpGrade]) -> None:
    wanted = {grade.pk for grade in grades}
    held = _grade_ids(pool)
    pool.grade_links.filter(co_op_grade_id__in=held - wanted).delete()
    PoolGrade.objects.bulk_create(
        PoolGrade(pool=pool, co_op_grade_id=pk) for pk in sorted(wanted - held, key=str)
    )
