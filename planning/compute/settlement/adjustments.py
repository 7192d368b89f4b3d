"""Adjustments of a pool's issued statements: the account as it would be now, less the ledger.

Weights, grades or prices may be corrected later, and an issued statement never changes. So a row
or deduction that came, went or changed is a line of its own on the member's next statement, which
names the statement and the line that it adjusts. A new price, or a share that is worth more or
less because others' kilos changed, touches every line: that is one line, which names the
statement. The lines add up to the difference exactly.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal

from planning.compute.settlement.values import VALUE, Line, LineKind, Settled


def adjustments(
    account: Sequence[Line], ledger: Mapping[str, Settled], *, pool: str, currency: str
) -> list[Line]:
    """What brings one member's ledger of a pool to the account as it is now."""
    lines = [
        _adjustment(key, now, before, pool)
        for key, (now, before) in _sides(account, ledger).items()
        if _differs(now, before)
    ]
    settled = sum(each.amount_minor for each in ledger.values())
    due = sum(line.amount_minor for line in account)
    rest = due - settled - sum(line.amount_minor for line in lines)
    if rest:
        lines.append(_value_line(rest, account, ledger, pool=pool, currency=currency))
    return lines


Side = Line | Settled | None


def _sides(
    account: Sequence[Line], ledger: Mapping[str, Settled]
) -> dict[str, tuple[Line | None, Settled | None]]:
    """What is and what was, by row or deduction; deductions come last."""
    now = {line.key: line for line in account}
    sides = {key: (now.get(key), ledger.get(key)) for key in [*now, *ledger] if key != VALUE}
    return dict(sorted(sides.items(), key=lambda item: _is_deduction(*item[1])))


def _is_deduction(*sides: Side) -> bool:
    return any(side is not None and side.kind is LineKind.DEDUCTION for side in sides)


def _differs(now: Line | None, before: Settled | None) -> bool:
    """A row by its kilos, for its amount moves with what a kilo is worth; else by the amount."""
    if now is None or before is None or _is_deduction(now):
        return _grams(now) != _grams(before) or _amount(now) != _amount(before)
    return now.grams != before.grams


def _adjustment(key: str, now: Line | None, before: Settled | None, pool: str) -> Line:
    grams = _grams(now) - _grams(before)
    fruit = [side.fruit for side in (now, before) if side is not None]
    return Line(
        kind=LineKind.ADJUSTMENT,
        key=key,
        amount_minor=_amount(now) - _amount(before),
        grams=None if _is_deduction(now, before) else grams,
        rate=now.rate if now else None,
        text=_told(now, before),
        fruit=fruit[0],
        pool=pool,
        adjusts_statement=before.statement if before else None,
        adjusts_line=before.line if before else None,
    )


def _grams(side: Side) -> int:
    """Of fruit; those of a deduction are what it was reckoned from."""
    return 0 if side is None or _is_deduction(side) else side.grams or 0


def _amount(side: Side) -> int:
    return side.amount_minor if side else 0


def _told(now: Line | None, before: Settled | None) -> str:
    """What changed, in words."""
    if _is_deduction(now, before):
        what = next(side.text for side in (now, before) if side is not None)
        return what if before is None else f"{what}, reckoned anew"
    if before is None:
        return f"{_kilos(now)} that had not been settled"
    if now is None:
        return f"{_kilos(before)} that no longer belong to the pool"
    return f"{_kilos(now)} instead of {_kilos(before)}"


def _value_line(
    rest: int,
    account: Sequence[Line],
    ledger: Mapping[str, Settled],
    *,
    pool: str,
    currency: str,
) -> Line:
    """Of the statement that first held the pool, as all of its lines are touched."""
    own = [each for key, each in ledger.items() if key != VALUE]
    latest = [ledger[VALUE]] if VALUE in ledger else own
    before = next((each for each in latest if each.kind is LineKind.KILOS), None)
    price = next((line.rate for line in account if line.kind is LineKind.KILOS), None)
    return Line(
        kind=LineKind.ADJUSTMENT,
        key=VALUE,
        amount_minor=rest,
        rate=price,
        text=_value_text(price, before.rate if before else None, currency),
        pool=pool,
        adjusts_statement=own[0].statement if own else None,
    )


def _value_text(now: Decimal | None, before: Decimal | None, currency: str) -> str:
    if now is None or before is None or now == before:
        return "Rounding of the lines whose kilos did not change"
    return f"A kilo comes to {now.normalize():f} {currency} instead of {before.normalize():f}"


def _kilos(side: Side) -> str:
    return f"{Decimal(_grams(side)) / 1000:.3f} kg"
