"""Amounts of money as whole minor units of an ISO 4217 currency: cents of EUR, yen of JPY.

Codes and decimals are those of ISO 4217 list one, without funds, metals and units of account.
Rounding is half up, as bills are commonly rounded (common practice, no source).
"""

from decimal import ROUND_HALF_UP, Decimal

from planning.compute.settlement.values import SettlementError

_TWO_DECIMALS = """
    AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF CHF
    CNY COP CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL
    HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT
    MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB
    SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH
    USD UYU UZS VES WST XCD XCG YER ZAR ZMW ZWG
"""
_NO_DECIMALS = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
_THREE_DECIMALS = "BHD IQD JOD KWD LYD OMR TND"

CURRENCIES: dict[str, int] = {
    code: decimals
    for decimals, codes in ((0, _NO_DECIMALS), (2, _TWO_DECIMALS), (3, _THREE_DECIMALS))
    for code in codes.split()
}


def decimals_of(currency: str) -> int:
    """How many decimals a currency has; raises SettlementError for a code that is none."""
    if currency not in CURRENCIES:
        raise SettlementError(f"{currency} is no currency code of ISO 4217, such as EUR.")
    return CURRENCIES[currency]


def rounded(units: Decimal) -> int:
    """Whole minor units, half up; below nothing as above it."""
    return int(units.quantize(Decimal(1), rounding=ROUND_HALF_UP))


def is_whole_minor(amount: Decimal, currency: str) -> bool:
    """Whether an amount can be paid in the currency: JPY has no half yen."""
    return amount.scaleb(decimals_of(currency)) % 1 == 0


def in_minor_units(amount: Decimal, currency: str) -> int:
    """An amount in whole minor units; raises SettlementError where it is not whole."""
    if not is_whole_minor(amount, currency):
        raise SettlementError(f"{currency} has {decimals_of(currency)} decimals: not {amount}.")
    return int(amount.scaleb(decimals_of(currency)))


def money(minor: int, currency: str) -> Decimal:
    """The amount that minor units are, with all decimals of the currency."""
    return Decimal(minor).scaleb(-decimals_of(currency))
