from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from monitor.clock import quiet_until

OSLO = ZoneInfo("Europe/Oslo")
NIGHT = (time(21, 30), time(6, 30))


def local(text: str, zone: ZoneInfo = OSLO, fold: int = 0) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone, fold=fold)


@pytest.mark.parametrize("clock", ["21:30", "23:59", "00:00", "06:29:59"])
def test_the_night_is_quiet_until_its_end_over_midnight(clock: str) -> None:
    day = "2026-10-09" if clock > "12" else "2026-10-10"
    assert quiet_until(local(f"{day}T{clock}"), NIGHT, OSLO) == local("2026-10-10T06:30")


@pytest.mark.parametrize("clock", ["06:30", "12:00", "21:29:59"])
def test_the_day_is_not_quiet(clock: str) -> None:
    assert quiet_until(local(f"2026-10-09T{clock}"), NIGHT, OSLO) is None


def test_quiet_hours_within_a_day_end_on_that_day() -> None:
    noon_rest = (time(13), time(15))
    assert quiet_until(local("2026-10-09T14:00"), noon_rest, OSLO) == local("2026-10-09T15:00")
    assert quiet_until(local("2026-10-09T15:00"), noon_rest, OSLO) is None


def test_no_quiet_hours_are_never_quiet() -> None:
    assert quiet_until(local("2026-10-09T03:00"), None, OSLO) is None


def test_the_athletes_clock_counts_not_the_servers() -> None:
    moment = datetime(2026, 10, 9, 22, 0, tzinfo=UTC)
    assert quiet_until(moment, NIGHT, ZoneInfo("America/Denver")) is None
    assert quiet_until(moment, NIGHT, OSLO) == local("2026-10-10T06:30")


def test_the_night_the_clock_goes_forward_is_an_hour_shorter() -> None:
    begin = local("2026-03-28T21:30")
    until = quiet_until(begin, NIGHT, OSLO)
    assert until is not None
    assert until - begin.astimezone(UTC) == timedelta(hours=8)


def test_the_night_the_clock_goes_back_is_an_hour_longer() -> None:
    begin = local("2026-10-24T21:30")
    until = quiet_until(begin, NIGHT, OSLO)
    assert until is not None
    assert until - begin.astimezone(UTC) == timedelta(hours=10)


def test_an_end_that_the_clock_jumps_over_is_the_moment_of_the_jump() -> None:
    quiet = (time(21, 30), time(2, 30))  # 02:00 becomes 03:00
    assert quiet_until(local("2026-03-29T01:59"), quiet, OSLO) == datetime(2026, 3, 29, 1, 0, tzinfo=UTC)
    assert quiet_until(local("2026-03-29T03:00"), quiet, OSLO) is None


def test_an_end_that_comes_twice_is_the_second_one() -> None:
    quiet = (time(21, 30), time(2, 30))  # 03:00 becomes 02:00
    second = local("2026-10-25T02:30", fold=1)
    for fold in (0, 1):
        assert quiet_until(local("2026-10-25T02:10", fold=fold), quiet, OSLO) == second.astimezone(UTC)
    assert quiet_until(local("2026-10-25T02:40", fold=0), quiet, OSLO) == second.astimezone(UTC)
    assert quiet_until(local("2026-10-25T02:40", fold=1), quiet, OSLO) is None


CLOCKS = st.times().map(lambda clock: clock.replace(second=0, microsecond=0))
ZONES = st.sampled_from(
    ["Europe/Oslo", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "Pacific/Apia", "UTC"]
)


@given(
    moment=st.datetimes(datetime(2024, 1, 1), datetime(2028, 1, 1), timezones=st.just(UTC)),  # noqa: DTZ001 - bounds without a zone, as is asked
    begin=CLOCKS,
    end=CLOCKS,
    zone=ZONES,
)
def test_on_days_without_a_change_of_clock_the_wall_clock_decides(
    moment: datetime, begin: time, end: time, zone: str
) -> None:
    place = ZoneInfo(zone)
    near = [(moment + timedelta(hours=hours)).astimezone(place).utcoffset() for hours in range(-48, 49, 12)]
    if begin == end or len(set(near)) > 1:
        return
    wall = moment.astimezone(place).time()
    inside = begin <= wall < end if begin < end else wall >= begin or wall < end
    assert (quiet_until(moment, (begin, end), place) is not None) == inside


@given(
    moment=st.datetimes(datetime(2024, 1, 1), datetime(2028, 1, 1), timezones=st.just(UTC)),  # noqa: DTZ001 - bounds without a zone, as is asked
    begin=CLOCKS,
    end=CLOCKS,
    zone=ZONES,
)
def test_at_its_end_the_quiet_is_over(moment: datetime, begin: time, end: time, zone: str) -> None:
    assume(begin != end)
    place = ZoneInfo(zone)
    until = quiet_until(moment, (begin, end), place)
    assume(until is not None)
    assert until is not None
    assert moment < until <= moment + timedelta(hours=26)
    changed = {(until + timedelta(hours=hours)).astimezone(place).utcoffset() for hours in (-26, 0, 26)}
    assert quiet_until(until, (begin, end), place) is None or len(changed) > 1  # a clock put back may begin it again
