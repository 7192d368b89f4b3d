"""Closed sets of values, and the bounds that the schema states."""

from decimal import Decimal

from django.db.models import TextChoices

MAX_WEIGHING_G = 5_000_000  # five tonnes in one weighing is a slip of the pen
MAX_CONTAINERS = 10_000
MAX_FRUIT = 100_000
MINUTES_A_DAY = 1_440
MAX_TASK_MINUTES = MINUTES_A_DAY * 50  # fifty people for a day
MAX_AREA_M2 = 100_000_000
MAX_ROW = 10_000
MAX_FLOWERS = 1_000_000
MAX_TREES = 100_000
MAX_FRUIT_G = 20_000
MAX_FRUIT_MM = 1_000
MAX_SEEDS = 1_000
MAX_GIRTH_MM = 20_000
# A shed's second scale never agrees to the gram. Common practice, no source.
SORTING_TOLERANCE = Decimal("0.005")
# Storage below these counts as chilled and as frozen. Common practice, no source.
CHILLED_BELOW_C = 10
FROZEN_BELOW_C = -10
# Outside these a day's temperature is more likely in Fahrenheit or a slip of the pen: a place
# that grows annonas has neither. Common practice, no source.
CELSIUS_RANGE = (Decimal(-20), Decimal(48))


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
    SETTLEMENT_READ = "settlement:read"
    SETTLEMENT_WRITE = "settlement:write"


class TaskKind(TextChoices):
    """Kinds of work. A pollination round is its own task log, and so is a picking's weighing."""

    PRUNING = "pruning", "pruning"
    LEAF_STRIPPING = "leaf-stripping", "leaf stripping"
    BAGGING = "bagging", "bagging fruit"
    THINNING = "thinning", "thinning fruit"
    SPRAYING = "spraying", "spraying"
    IRRIGATION = "irrigation", "irrigation"
    FERTILISING = "fertilising", "fertilising"
    WEEDING = "weeding", "weeding"
    COUNTING = "counting", "counting"
    TRAINING = "training", "training shoots"
    OTHER = "other", "other work"


class PruningMethod(TextChoices):
    HEADING = "heading", "shoots cut back"
    THINNING = "thinning", "whole shoots taken out"
    HEADING_AND_THINNING = "heading-and-thinning", "weak shoots taken out, strong ones cut back"
    RENEWAL = "renewal", "older wood renewed"
    TIPPING = "tipping", "tips taken off"


class FlowerStage(TextChoices):
    FEMALE = "female", "female-stage flowers"
    MALE = "male", "male-stage flowers"


class PollinationMethod(TextChoices):
    BRUSH = "brush", "brush"
    PUFFER = "puffer", "puffer"
    NATURAL = "natural", "marked and left alone"
    BAGGED = "bagged", "bagged and left alone"


BY_HAND = (PollinationMethod.BRUSH, PollinationMethod.PUFFER)


class CountKind(TextChoices):
    INITIAL = "initial", "fruit that set"
    RETAINED = "retained", "fruit still there"
    THINNED = "thinned", "fruit removed by hand"


class CountedOn(TextChoices):
    MARKED_FLOWERS = "marked-flowers", "marked flowers looked at"
    WHOLE_TREES = "whole-trees", "whole trees, natural fruit included"


class WeatherKind(TextChoices):
    OBSERVED = "observed", "observed"
    FORECAST = "forecast", "forecast"


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


class ImportKind(TextChoices):
    """What the rows of a member's file become."""

    HARVEST_WEIGHTS = "harvest-weights", "harvest weights"
    INTAKES = "intakes", "intakes"
    WEATHER_DAYS = "weather-days", "weather days"
    TASK_LOGS = "task-logs", "task logs"
    GROWTH_STAGES = "growth-stages", "growth stages"
    POLLINATION_ROUNDS = "pollination-rounds", "pollination rounds"
    FRUIT_COUNTS = "fruit-counts", "fruit counts"

    @property
    def usual_series(self) -> str:
        """The series of files for which none is named."""
        return "harvest" if self is ImportKind.HARVEST_WEIGHTS else self.value


class ChangeKind(TextChoices):
    """What a replacement does to a weighing."""

    ADDED = "added", "added"
    CHANGED = "changed", "changed"
    GONE = "gone", "gone"


class OnProblem(TextChoices):
    REJECT = "reject", "nothing lands when a row is refused"
    SKIP = "skip", "refused rows are left out"


class ImportState(TextChoices):
    RECEIVED = "received"
    READING = "reading"
    QUESTION = "question"
    CHECKED = "checked"
    REFUSED = "refused"
    LANDING = "landing"
    STOPPED = "stopped", "landed in part"
    LANDED = "landed"
    FAILED = "failed"
    UNDONE = "undone"


class BatchFileState(TextChoices):
    """What became of one of several files sent together."""

    QUESTION = "question", "waits to be told its farm"
    STARTED = "started", "was started as an import"
    ALREADY_SENT = "already-sent", "was sent before"
    DROPPED = "dropped", "was dropped"
    IGNORED = "ignored", "is no file of a member"


class JobState(TextChoices):
    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    DEAD = "dead"
