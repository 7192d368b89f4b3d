"""Closed sets of values, and the bounds that the schema states."""

from decimal import Decimal

from django.db.models import TextChoices

MAX_WEIGHING_G = 5_000_000  # five tonnes in one weighing is a slip of the pen
MAX_CONTAINERS = 10_000
MAX_FRUIT = 100_000
MINUTES_A_DAY = 1_440
MAX_AREA_M2 = 100_000_000
MAX_ROW = 10_000


class WeightUnit(TextChoices):
    GRAM = "g"
    KILOGRAM = "kg"
    TONNE = "t"
    OUNCE = "oz"
    POUND = "lb"


# Grams a unit. Exact by definition: NIST Handbook 44, Appendix C (value from memory).
GRAMS = {
    WeightUnit.GRAM: Decimal(1),
    WeightUnit.KILOGRAM: Decimal(1000),
    WeightUnit.TONNE: Decimal(1_000_000),
    WeightUnit.OUNCE: Decimal("28.349523125"),
    WeightUnit.POUND: Decimal("453.59237"),
}


class WeightKind(TextChoices):
    GROSS = "gross", "fruit and containers"
    NET = "net", "fruit alone"


class Shares(TextChoices):
    HARVEST = "harvest", "harvest data only"
    ALL = "all", "all records"


class Basis(TextChoices):
    PICKED = "picked", "farm weighings"
    RECEIVED = "received", "net weight at intake"
    PACKED = "packed", "by grade after sorting"


class FarmRoleName(TextChoices):
    OWNER = "owner", "owner"
    MANAGER = "manager", "manager"
    WORKER = "worker", "field worker"
    ADVISER = "adviser", "adviser"


class Scope(TextChoices):
    SCHEDULE_READ = "schedule:read"
    SCHEDULE_WRITE = "schedule:write"
    RECORDS_READ = "records:read"
    RECORDS_WRITE = "records:write"
    HARVEST_READ = "harvest:read"
    HARVEST_WRITE = "harvest:write"


class CropOpening(TextChoices):
    PRUNING = "pruning", "pruning"
    LEAF_STRIPPING = "leaf-stripping", "leaf stripping"
    FIRST_BLOOM = "first-bloom", "first bloom"


class CropChoice(TextChoices):
    DATE = "date", "taken from the picking date and block"
    PERSON = "person", "said by the picker or an editor"


class DecimalMark(TextChoices):
    POINT = ".", "point"
    COMMA = ",", "comma"


class DateOrder(TextChoices):
    DAY_FIRST = "day-month-year", "day, month, year"
    MONTH_FIRST = "month-day-year", "month, day, year"
    YEAR_FIRST = "year-month-day", "year, month, day"


class Delimiter(TextChoices):
    COMMA = ",", "comma"
    SEMICOLON = ";", "semicolon"
    TAB = "\t", "tab"
    BAR = "|", "bar"


class OnProblem(TextChoices):
    REJECT = "reject", "nothing lands when a row is refused"
    SKIP = "skip", "refused rows are left out"


class ImportState(TextChoices):
    RECEIVED = "received"
    READING = "reading"
    QUESTION = "question"
    CHECKED = "checked"
    REFUSED = "refused"
    LANDED = "landed"
    FAILED = "failed"
    UNDONE = "undone"


class JobState(TextChoices):
    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    DEAD = "dead"
