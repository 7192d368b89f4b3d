"""Shares of a whole that add up to it, by largest remainder.

Each part gets the whole units of its exact share; the units left over go, one each, to the parts
with the largest remainders. This is Hamilton's method of 1792 (M. L. Balinski and H. P. Young,
Fair Representation, 1982). Of equal remainders the part of the larger weight goes first, then the
one whose key comes first.
"""

from collections.abc import Mapping

from planning.compute.settlement.values import SettlementError


def apportion(whole: int, weights: Mapping[str, int]) -> dict[str, int]:
    """Whole units by key, in the order of `weights`, adding up to `whole`.

    Weights are not below nothing. Raises SettlementError where all of them are nothing while the
    whole is not.
    """
    total = sum(weights.values())
    if not total:
        if whole:
            raise SettlementError("There is nothing to share the amount by.")
        return dict.fromkeys(weights, 0)
    exact = {key: divmod(whole * weight, total) for key, weight in weights.items()}
    shares = {key: units for key, (units, _) in exact.items()}
    left = whole - sum(shares.values())
    by_remainder = sorted(weights, key=lambda key: (-exact[key][1], -weights[key], key))
    for key in by_remainder[:left]:
        shares[key] += 1
    return shares
