"""The shape of roster.toml as pydantic models: keys, kinds, allowed values."""

from __future__ import annotations

import difflib
import os
import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from datetime import date, datetime, time, timedelta
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from monitor import words
from rules.limits import default_limits
from rules.limits_schema_session import Pair

# What a key of the roster may hold, said in words that an editor of the file understands.

TABLES = ("contact", "athlete", "race")


def allowed(mistake: Mapping[str, Any], key: str = "") -> str:
    """One mistake found by pydantic, as what would be right; `key` as it stands in the file."""
    kind, given = mistake["type"], mistake.get("input")
    if kind == "list_type" and key in TABLES:
        name = "athlete.race" if key == "race" else key
        return words.roster.TWO_BRACKETS.format(name=name)
    if kind == "literal_error":
        expected = str(mistake["ctx"]["expected"]).replace("'", "")
        return f"must be {expected}{meant(given, expected.replace(' or ', ', ').split(', '))}"
    if kind == "list_type" and isinstance(given, str) and key != "urls":
        return words.roster.MUST_BE_LIST.format(key=key, given=given)
    if kind == "too_short" and key == "urls":
        return words.roster.MUST_NOT_BE_EMPTY
    if kind in words.roster.MUST_BE_BY_KIND:
        return words.roster.MUST_BE_BY_KIND[kind].format(**{"key": key, **mistake.get("ctx", {})})
    message = str(mistake["msg"]).removeprefix("Value error, ")
    return message[:1].lower() + message[1:]


def meant(given: object, known: Iterable[str]) -> str:
    """ "; did you mean ...?" for the name that comes nearest, else nothing."""
    by_lower = {name.lower(): name for name in known}
    said = str(given).strip().lower()
    first = re.split(r"[\s_-]+", said)[0]  # a half marathon is no marathon
    near = [first] if first in by_lower else difflib.get_close_matches(said, list(by_lower), 1, 0.6)
    return words.roster.WORD_MEANT.format(by_lower=by_lower[near[0]]) if near else ""


BOUNDS = default_limits().roster


def _within(bounds: Pair, unit: str) -> AfterValidator:
    least, most = bounds

    def check(value: float) -> float:
        if not least <= value <= most:
            raise ValueError(words.roster.MUST_BE_BETWEEN.format(least=least, most=most, unit=unit))
        return value

    return AfterValidator(check)


HEART = Annotated[int, Field(ge=25, le=240, strict=True)]
HR_MAX = Annotated[HEART, _within(BOUNDS.hr_max, words.roster.HR_MAX_UNIT)]
HR_REST = Annotated[HEART, _within(BOUNDS.hr_rest, "bpm")]
THRESHOLD_HR = Annotated[HEART, _within(BOUNDS.threshold_hr, "bpm")]
CEILING = Annotated[HEART, _within(BOUNDS.ceiling, "bpm")]


USUAL_QUIET_HOURS = (time(21, 30), time(6, 30))


def _id(value: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,64}", value):
        raise ValueError(words.roster.MUST_BE_ID)
    return value


def _clock(value: Any) -> Any:
    if isinstance(value, str) and (match := re.fullmatch(r"(\d{1,2}):(\d{2})", value.strip())):
        with suppress(ValueError):
            return time(int(match[1]), int(match[2]))
    if isinstance(value, time):
        return value
    raise ValueError(words.roster.MUST_BE_LOCAL_TIME)


def _quiet(value: Any) -> Any:
    if value in ("", False):
        return None
    if isinstance(value, str) and value.count("-") == 1:
        with suppress(ValueError):
            begin, end = (_clock(part) for part in value.split("-"))
            return None if begin == end else (begin, end)
    raise ValueError(words.roster.MUST_BE_QUIET_HOURS)


def _result(value: Any) -> Any:
    if isinstance(value, str) and (match := re.fullmatch(r"(?:(\d{1,3}):)?([0-5]?\d):([0-5]\d)", value.strip())):
        return int(match[1] or 0) * 3600 + int(match[2]) * 60 + int(match[3])
    raise ValueError(words.roster.MUST_BE_RESULT)


def _pace(value: Any) -> Any:
    fastest, slowest = BOUNDS.threshold_pace
    if isinstance(value, str) and (match := re.fullmatch(r"(\d{1,2}):([0-5]\d)", value.strip())):
        seconds = int(match[1]) * 60 + int(match[2])
        if fastest <= seconds <= slowest:
            return float(seconds)
    between = " and ".join(f'"{int(end) // 60}:{int(end) % 60:02}"' for end in (fastest, slowest))
    raise ValueError(words.roster.MUST_BE_PACE.format(between=between))


def _finish(value: Any) -> Any:
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value)
        except ValueError:
            value = None
    if isinstance(value, datetime):
        ahead = default_limits().roster.finish_ahead_days
        if value.replace(tzinfo=None) > datetime.now() + timedelta(days=ahead):  # noqa: DTZ005 - a day plays no part
            raise ValueError(words.roster.FINISH_TOO_FAR.format(ahead=ahead))
        return value
    raise ValueError(words.roster.MUST_BE_LOCAL_DATE)


def _born(value: int) -> int:
    youngest, oldest = default_limits().roster.age
    this_year = datetime.now().year  # noqa: DTZ005 - a day plays no part
    if not this_year - oldest <= value <= this_year - youngest:
        raise ValueError(words.roster.MUST_BE_YEAR.format(oldest=this_year - oldest, youngest=this_year - youngest))
    return value


def _folder(value: str) -> str:
    if any(ord(letter) < ord(" ") for letter in value):
        raise ValueError(words.roster.FOLDER_WITH_TAB)
    if os.name != "nt" and re.match(r"[A-Za-z]:[\\/]", value):
        raise ValueError(words.roster.WINDOWS_FOLDER)
    return value


def _timezone(value: str) -> str:
    try:
        ZoneInfo(value)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        zones = sorted(available_timezones())
        city = value.strip().lower().replace(" ", "_")
        near = [zone for zone in zones if zone.lower().endswith(f"/{city}")] or difflib.get_close_matches(
            value, [zone for zone in zones if "/" in zone], 1
        )
        hint = words.roster.ZONE_MEANT.format(near=near[0]) if near else ""
        raise ValueError(words.roster.MUST_BE_TIMEZONE.format(hint=hint)) from None
    return value


def _event(value: str) -> str:
    known = [*default_limits().plan.event_days, "custom"]
    if value not in known:
        raise ValueError(words.roster.MUST_BE_ONE_OF + ", ".join(known) + meant(value, known))
    return value


def _clock_words(seconds: float) -> str:
    minutes, rest = divmod(int(seconds), 60)
    return f"{minutes // 60}:{minutes % 60:02}:{rest:02}"


class Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class AlertsShape(Shape):
    quiet_hours: Annotated[tuple[time, time] | None, BeforeValidator(_quiet)] = USUAL_QUIET_HOURS
    silent_after_hours: float = Field(72, gt=0, le=24 * 60)
    late_after_days: float = Field(7, ge=0, le=3650)


class ContactShape(Shape):
    id: Annotated[str, AfterValidator(_id)]
    name: str = Field("", max_length=120)
    urls: list[str] = Field(min_length=1)
    receives: Literal["note", "caution", "stop"] = "caution"
    daily: Annotated[time | None, BeforeValidator(_clock)] = None
    role: Literal["athlete", "coach"] | None = None
    units: Literal["metric", "imperial"] | None = None
    clock: Literal["24h", "12h"] | None = None


class RaceShape(Shape):
    event: Annotated[str, AfterValidator(_event)]
    finish: Annotated[datetime, BeforeValidator(_finish)]
    distance_km: float | None = Field(None, gt=0, le=2000)
    result: Annotated[int | None, BeforeValidator(_result)] = None
    taper_days: int | None = Field(None, ge=3, le=60, strict=True)
    conditions: list[Literal["heat", "cold", "altitude", "hills", "unprepared_ground", "injury", "stage_race"]] = []
    effort: Literal["all_out", "controlled"] = "all_out"

    @model_validator(mode="after")
    def _custom_has_distance(self) -> RaceShape:
        if self.event == "custom" and self.distance_km is None:
            raise ValueError(words.roster.CUSTOM_WITHOUT_DISTANCE)
        return self

    @model_validator(mode="after")
    def _result_is_a_race(self) -> RaceShape:
        km = self.distance_km or default_limits().race_file.event_km.get(self.event)
        if self.result is None or km is None or self.event.startswith("tri_"):
            return self
        slowest, fastest = default_limits().roster.race_speed_mps
        if not slowest <= km * 1000 / self.result <= fastest:
            quickest, longest = (_clock_words(km * 1000 / speed) for speed in (fastest, slowest))
            raise ValueError(words.roster.IMPOSSIBLE_RESULT.format(km=km, quickest=quickest, longest=longest))
        return self


class AthleteShape(Shape):
    id: Annotated[str, AfterValidator(_id)]
    name: str = Field("", max_length=120)
    folder: Annotated[str, Field(min_length=1), AfterValidator(_folder)]
    timezone: Annotated[str, AfterValidator(_timezone)]
    born: Annotated[int, Field(ge=1900, strict=True), AfterValidator(_born)] | None = None
    sex: Literal["female", "male"] | None = None
    hr_max: HR_MAX | None = None
    hr_rest: HR_REST | None = None
    threshold_hr: THRESHOLD_HR | None = None
    threshold_pace: Annotated[float | None, BeforeValidator(_pace)] = None
    intensity_model: Literal["hrmax", "hrr", "threshold", "fixed"] = "hrmax"
    ceiling_zone1: CEILING | None = None
    ceiling_zone2: CEILING | None = None
    contacts: list[str] = []
    columns: dict[str, Any] = {}
    table: list[dict[str, Any]] = []
    watch: Literal["auto", "events", "poll"] = "auto"
    units: Literal["metric", "imperial"] = "metric"
    clock: Literal["24h", "12h"] = "24h"
    health: list[Literal["beta_blocker", "pacemaker", "insulin", "nsaid", "under_18", "low_energy"]] = []
    gave_birth: date | None = None
    race: list[RaceShape] = []

    @model_validator(mode="after")
    def _model_has_its_numbers(self) -> AthleteShape:
        if self.intensity_model == "threshold" and self.threshold_hr is None:
            raise ValueError(words.roster.THRESHOLD_MODEL_WITHOUT_HR)
        if self.intensity_model == "fixed" and (self.ceiling_zone1 is None or self.ceiling_zone2 is None):
            raise ValueError(words.roster.FIXED_MODEL_WITHOUT_CEILINGS)
        if self.ceiling_zone1 and self.ceiling_zone2 and self.ceiling_zone1 >= self.ceiling_zone2:
            raise ValueError(words.roster.CEILINGS_SWAPPED)
        if self.hr_max and self.threshold_hr and self.threshold_hr > self.hr_max:
            raise ValueError(words.roster.THRESHOLD_OVER_HR_MAX)
        return self


LOOPBACK = re.compile(r"(?i)localhost|127(\.\d{1,3}){3}|::1")


LAST_PORT = 65535


def _listen(value: str) -> str:
    match = re.fullmatch(r"(?:\[([0-9A-Fa-f:]+)\]|([A-Za-z0-9.-]+)):(\d{1,5})", value)
    if match is None or not 1 <= int(match[3]) <= LAST_PORT:
        raise ValueError(words.roster.MUST_BE_ADDRESS)
    return value


def _origin(value: str) -> str:
    match = re.fullmatch(r"(?i)(https?)://(\[[0-9a-f:]+\]|[a-z0-9.-]+)(?::(\d{1,5}))?/?", value)
    if match is None:
        raise ValueError(words.roster.MUST_BE_PAGE_URL)
    usual = {"https": "443", "http": "80"}[match[1].lower()]
    port = f":{match[3]}" if match[3] and match[3] != usual else ""
    return f"{match[1].lower()}://{match[2].lower()}{port}"


class PageShape(Shape):
    listen: Annotated[str, AfterValidator(_listen)] = "127.0.0.1:8722"
    url: Annotated[str, Field(max_length=80), AfterValidator(_origin)] = ""
    insecure: bool = Field(False, strict=True)

    @model_validator(mode="after")
    def _way_is_private(self) -> PageShape:
        address = self.listen.rpartition(":")[0].strip("[]")
        if self.insecure or self.url.startswith("https://"):
            return self
        if not LOOPBACK.fullmatch(address):
            raise ValueError(words.roster.LISTEN_WITHOUT_HTTPS.format(open_way=words.roster.OPEN_WAY))
        host = re.sub(r":\d+$", "", self.url.partition("://")[2]).strip("[]")
        if self.url and not LOOPBACK.fullmatch(host):
            raise ValueError(words.roster.URL_WITHOUT_HTTPS.format(open_way=words.roster.OPEN_WAY))
        return self


class RosterShape(Shape):
    alerts: AlertsShape = Field(default_factory=lambda: AlertsShape.model_validate({}))
    page: PageShape | None = None
    contact: list[ContactShape] = []
    athlete: list[AthleteShape] = []
