"""The shape of a day's pollination windows, as the API gives them."""

from rest_framework import serializers

from planning.compute.pollination_windows import PollenDay
from records.choices import WeatherKind

POLLEN_DAYS = [day.value for day in PollenDay]


class SessionSerializer(serializers.Serializer):
    starts_at = serializers.DateTimeField(help_text="UTC.")
    ends_at = serializers.DateTimeField(help_text="UTC.")
    starts_local = serializers.DateTimeField(help_text="By the farm's clock, with its offset.")
    ends_local = serializers.DateTimeField()
    minutes = serializers.IntegerField()
    flower_date = serializers.DateField(help_text="When these flowers opened.")
    if_shed = serializers.ChoiceField(
        choices=POLLEN_DAYS,
        allow_null=True,
        help_text="Nobody knows yet on which day pollen is shed: this holds if on that one.",
    )

    class Meta:
        ref_name = "FlowerSession"


class PartSerializer(serializers.Serializer):
    sessions = SessionSerializer(many=True)
    minutes = serializers.IntegerField(help_text="Each minute once, where sessions overlap.")
    hours = serializers.CharField(help_text="The flowers' hours in words; empty if not known.")
    source = serializers.CharField(allow_null=True)  # type: ignore[assignment]  # a field
    source_code = serializers.CharField(allow_null=True)
    is_own = serializers.BooleanField()
    is_default = serializers.BooleanField()
    is_weak = serializers.BooleanField()
    notes = serializers.ListField(child=serializers.CharField())
    reason = serializers.CharField()


class SetShareSerializer(serializers.Serializer):
    flowers = serializers.IntegerField(help_text="Marked flowers looked at.")
    fruit = serializers.IntegerField()
    rounds = serializers.IntegerField()
    set_share = serializers.FloatField()
    low = serializers.FloatField(help_text="Of Wilson's interval of 95 %.")
    high = serializers.FloatField()


class HourShareSerializer(SetShareSerializer):
    from_minutes = serializers.IntegerField(help_text="Of an hour, from solar noon.")
    is_best = serializers.BooleanField()


class ProposalSerializer(serializers.Serializer):
    source_code = serializers.CharField(allow_null=True)
    from_minutes = serializers.IntegerField(allow_null=True, help_text="From solar noon.")


class OwnCountsSerializer(serializers.Serializer):
    """What the farm's marked flowers set, by the hour; other hours are proposed, never taken."""

    hours = HourShareSerializer(many=True)
    within_hours = SetShareSerializer(allow_null=True, help_text="Within the hours that hold.")
    proposal = ProposalSerializer(allow_null=True)
    reason = serializers.CharField()


class WeatherUsedSerializer(serializers.Serializer):
    kind = serializers.ChoiceField(choices=WeatherKind.choices)
    forecast_on = serializers.DateField(allow_null=True)
    station = serializers.UUIDField()
    station_name = serializers.CharField()
    tmin_c = serializers.FloatField(allow_null=True)
    tmax_c = serializers.FloatField(allow_null=True)
    humidity_percent = serializers.FloatField(allow_null=True)
    hours_read = serializers.IntegerField()


class CautionSerializer(serializers.Serializer):
    code = serializers.CharField()
    text = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]  # a field
    holds = serializers.BooleanField(allow_null=True, help_text="Null: nobody knows.")


class WindowInputsSerializer(serializers.Serializer):
    latitude = serializers.FloatField(allow_null=True)
    longitude = serializers.FloatField(allow_null=True)
    time_zone = serializers.CharField()
    works_from = serializers.TimeField(allow_null=True)
    works_until = serializers.TimeField(allow_null=True)


class WindowRowSerializer(serializers.Serializer):
    """One species on one local date."""

    day = serializers.DateField()
    species = serializers.UUIDField()
    species_code = serializers.CharField()
    sunrise = serializers.DateTimeField(allow_null=True, help_text="By the farm's clock.")
    solar_noon = serializers.DateTimeField(allow_null=True)
    sunset = serializers.DateTimeField(allow_null=True)
    sun_reason = serializers.CharField(allow_null=True, help_text="Why one of them is null.")
    brush_times = serializers.CharField(help_text="By the farm's clock: 07:11-13:11.")
    gather_times = serializers.CharField()
    brush = PartSerializer()
    gather = PartSerializer()
    weather = WeatherUsedSerializer(allow_null=True)
    weather_reason = serializers.CharField(allow_null=True, help_text="Why it is null.")
    cautions = CautionSerializer(many=True)
    own_counts = OwnCountsSerializer(allow_null=True)
    own_counts_reason = serializers.CharField(allow_null=True, help_text="Why it is null.")
    inputs = WindowInputsSerializer()
    method = serializers.CharField()

    class Meta:
        ref_name = "PollinationWindow"
