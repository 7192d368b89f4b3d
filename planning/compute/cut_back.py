"""How much comes off each shoot, from measured shoots, by a rule of the species.

Weak shoots go altogether: those shorter than a share of the sample's median length, or thinner
than so many millimetres. Of each strong shoot either a share of its length is taken off (sugar
apple: one half to two thirds, common practice, no source), or so many centimetres are left
(atemoya laterals: 10-15 cm, 4-6 buds; Sanewski 1991 in Paull & Duarte 2011, ch. 6). Where a
species has no rule, or none applies, lengths are None and `reason` says why.

A pruning log says what was taken off; `compared` holds it against the same rule, within a
centimetre, since nobody cuts to the millimetre.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite
from statistics import median

MOST_SHOOTS = 1_000
MOST_CM = 1_000.0
MOST_MM = 200.0
WITHIN_CM = 1.0


class CutBackError(ValueError):
    """Shoots or a rule that cannot be; `shoot` is the number of the shoot at fault, if one is."""

    def __init__(self, text: str, *, shoot: int | None = None) -> None:
        super().__init__(text)
        self.shoot = shoot


@dataclass(frozen=True, slots=True, kw_only=True)
class Shoot:
    """One shoot as measured: its length, and its diameter at the base if that was taken."""

    length_cm: float
    diameter_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOff:
    """A share (0 to 1) of each strong shoot's length is taken off, from least to most."""

    least: float
    most: float

    def __post_init__(self) -> None:
        if not 0 <= self.least <= self.most <= 1:
            raise CutBackError("the share to take off is from 0 to 1, the least before the most")

    def removed_cm(self, length_cm: float) -> tuple[float, float]:
        return length_cm * self.least, length_cm * self.most


@dataclass(frozen=True, slots=True, kw_only=True)
class Leave:
    """Each strong shoot is cut to a length, from least to most; a shorter one stays as it is."""

    least_cm: float
    most_cm: float

    def __post_init__(self) -> None:
        if not 0 <= self.least_cm <= self.most_cm:
            raise CutBackError("the length to leave is from nought up, the least before the most")

    def removed_cm(self, length_cm: float) -> tuple[float, float]:
        return max(0.0, length_cm - self.most_cm), max(0.0, length_cm - self.least_cm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What is done with a species' shoots. `cut` None: no rule, and `reason` says why."""

    cut: TakeOff | Leave | None
    reason: str = ""
    weak_share: float | None = None
    weak_mm: float | None = None
    excessive_cm: float | None = None


class Fate(StrEnum):
    REMOVE = "remove"
    CUT = "cut"
    LEAVE = "leave"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShootAdvice:
    """What to do with one shoot; lengths are None where there is no rule."""

    number: int
    shoot: Shoot
    fate: Fate
    remove_least_cm: float | None
    remove_most_cm: float | None
    why: str

    @property
    def leave_least_cm(self) -> float | None:
        return None if self.remove_most_cm is None else self.shoot.length_cm - self.remove_most_cm

    @property
    def leave_most_cm(self) -> float | None:
        return None if self.remove_least_cm is None else self.shoot.length_cm - self.remove_least_cm


@dataclass(frozen=True, slots=True, kw_only=True)
class CutBack:
    """Advice for a sample of shoots, and what it comes to. Shares are of the total length."""

    shoots: Sequence[ShootAdvice]
    median_cm: float
    total_cm: float
    weak: int
    remove_least_cm: float | None
    remove_most_cm: float | None
    reason: str

    @property
    def remove_least_share(self) -> float | None:
        return _share(self.remove_least_cm, self.total_cm)

    @property
    def remove_most_share(self) -> float | None:
        return _share(self.remove_most_cm, self.total_cm)


class Compared(StrEnum):
    AS_ADVISED = "as-advised"
    LESS = "less"
    MORE = "more"


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What was taken off, by a log, against what the rule advises for the same shoots.

    `as_advised`, `less` and `more` are numbers of shoots; None where there is no rule.
    """

    shoots: int
    before_cm: float
    removed_cm: float
    advised: CutBack
    as_advised: int | None
    less: int | None
    more: int | None

    @property
    def removed_share(self) -> float | None:
        return _share(self.removed_cm, self.before_cm)


def cut_back(shoots: Sequence[Shoot], rule: Rule) -> CutBack:
    """What to take off each shoot of a sample, in the order given."""
    _check(shoots)
    middle = median(shoot.length_cm for shoot in shoots)
    advice = [_advice(number, shoot, rule, middle) for number, shoot in enumerate(shoots, start=1)]
    weak = sum(each.fate is Fate.REMOVE for each in advice)
    return CutBack(
        shoots=advice,
        median_cm=middle,
        total_cm=sum(shoot.length_cm for shoot in shoots),
        weak=weak,
        remove_least_cm=_total([each.remove_least_cm for each in advice]),
        remove_most_cm=_total([each.remove_most_cm for each in advice]),
        reason=_reason(rule, weak, len(shoots)),
    )


def compared(before_cm: Sequence[float], removed_cm: Sequence[float], rule: Rule) -> Comparison:
    """A pruning log's lengths before and taken off, shoot by shoot, against the rule.

    Shoots that a log gives no length are left out.
    """
    if len(before_cm) != len(removed_cm):
        raise CutBackError("lengths before and taken off are of the same shoots")
    for number, (before, removed) in enumerate(zip(before_cm, removed_cm, strict=True), start=1):
        if not 0 <= removed <= before:
            text = f"shoot {number}: {removed:g} cm cannot come off {before:g} cm"
            raise CutBackError(text, shoot=number)
    pairs = [pair for pair in zip(before_cm, removed_cm, strict=True) if pair[0] > 0]
    advised = cut_back([Shoot(length_cm=before) for before, _ in pairs], rule)
    verdicts = [
        _verdict(advice, removed)
        for advice, (_, removed) in zip(advised.shoots, pairs, strict=True)
    ]
    known = rule.cut is not None
    return Comparison(
        shoots=len(pairs),
        before_cm=sum(before_cm),
        removed_cm=sum(removed_cm),
        advised=advised,
        as_advised=verdicts.count(Compared.AS_ADVISED) if known else None,
        less=verdicts.count(Compared.LESS) if known else None,
        more=verdicts.count(Compared.MORE) if known else None,
    )


def _check(shoots: Sequence[Shoot]) -> None:
    if not shoots:
        raise CutBackError("no shoot has been measured")
    if len(shoots) > MOST_SHOOTS:
        raise CutBackError(f"there are more than {MOST_SHOOTS} shoots")
    for number, shoot in enumerate(shoots, start=1):
        if not (isfinite(shoot.length_cm) and 0 < shoot.length_cm <= MOST_CM):
            text = f"shoot {number}: a length is above 0 and up to {MOST_CM:g} cm"
            raise CutBackError(f"{text}, not {shoot.length_cm:g}", shoot=number)
        thick = shoot.diameter_mm
        if thick is not None and not (isfinite(thick) and 0 < thick <= MOST_MM):
            text = f"shoot {number}: a diameter is above 0 and up to {MOST_MM:g} mm"
            raise CutBackError(f"{text}, not {thick:g}", shoot=number)


def _advice(number: int, shoot: Shoot, rule: Rule, median_cm: float) -> ShootAdvice:
    if rule.cut is None:
        return _told(number, shoot, Fate.UNKNOWN, None, rule.reason)
    if why := _why_weak(shoot, rule, median_cm):
        return _told(number, shoot, Fate.REMOVE, (shoot.length_cm, shoot.length_cm), why)
    least, most = rule.cut.removed_cm(shoot.length_cm)
    if most == 0:
        return _told(number, shoot, Fate.LEAVE, (0.0, 0.0), "It is no longer than what is left.")
    return _told(number, shoot, Fate.CUT, (least, most), _why_cut(shoot, rule))


def _told(
    number: int, shoot: Shoot, fate: Fate, removed: tuple[float, float] | None, why: str
) -> ShootAdvice:
    least, most = removed or (None, None)
    return ShootAdvice(
        number=number,
        shoot=shoot,
        fate=fate,
        remove_least_cm=least,
        remove_most_cm=most,
        why=why,
    )


def _why_weak(shoot: Shoot, rule: Rule, median_cm: float) -> str:
    if rule.weak_share is not None and shoot.length_cm < rule.weak_share * median_cm:
        return (
            f"Weak: shorter than {rule.weak_share:.0%} of the sample's median of {median_cm:g} cm."
        )
    thick = shoot.diameter_mm
    if rule.weak_mm is not None and thick is not None and thick < rule.weak_mm:
        return f"Weak: thinner than {rule.weak_mm:g} mm."
    return ""


def _why_cut(shoot: Shoot, rule: Rule) -> str:
    too_long = rule.excessive_cm is not None and shoot.length_cm > rule.excessive_cm
    return "Strong; it grew too strongly." if too_long else "Strong."


def _verdict(advice: ShootAdvice, removed_cm: float) -> Compared:
    least, most = advice.remove_least_cm, advice.remove_most_cm
    if least is not None and removed_cm < least - WITHIN_CM:
        return Compared.LESS
    if most is not None and removed_cm > most + WITHIN_CM:
        return Compared.MORE
    return Compared.AS_ADVISED


def _reason(rule: Rule, weak: int, number: int) -> str:
    match rule.cut:
        case TakeOff(least=least, most=most):
            how = f"take {least:.0%} to {most:.0%} off the length of each strong shoot"
        case Leave(least_cm=least, most_cm=most):
            how = f"cut each strong shoot to {least:g}-{most:g} cm"
        case _:
            return rule.reason
    return f"Of {number} shoots {weak} are weak and go altogether; {how}."


def _total(lengths: Sequence[float | None]) -> float | None:
    known = [length for length in lengths if length is not None]
    return sum(known) if len(known) == len(lengths) else None


def _share(part: float | None, whole: float) -> float | None:
    return None if part is None or not whole else part / whole
