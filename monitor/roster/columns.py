"""[athlete.columns] and [[athlete.table]]: how an athlete's tables name their fields, and in which unit."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from monitor import words
from monitor.values import ColumnMap, IntakeOptions, TableNames

# Units as people write them into the head of a column, in the languages of those who keep such tables.

UNITS = ("h", "min", "s", "ms", "bpm")
UNITS_OF: dict[str, tuple[str, ...]] = {
    "total_sleep_min": ("h", "min", "s"),
    "resting_hr": ("bpm",),
    "rmssd_ms": ("ms", "s"),
}
"""The units that a field may be told in."""
_WORDS = {
    "h": "h hr hrs hour hours std stunde stunden heure heures t tim timer timmar time tid ore ora hora horas uur uren u"
    " godz godzin tuntia tunti klukkustund óra heur",
    "min": "min mins minute minutes m minuten minuter minutter minutos minuti minuta minut minuuttia mn",
    "s": "s sec secs second seconds sek sekunden sekunder seconde secondes segundos secondi",
    "ms": "ms msec millisecond milliseconds millisekunden millisekunder millisecondes milisegundos",
    "bpm": "bpm /min 1/min min-1 beats/min slag/min schläge/min ppm",
}  # fmt: skip
_BY_WORD = {word: unit for unit, known in _WORDS.items() for word in known.split()}
_BY_WORD |= {"beats per minute": "bpm", "slag per minute": "bpm"}
_NO_UNIT = frozenset(
    {"rmssd", "hrv", "total", "avg", "average", "mean", "median", "night", "asleep", "sleep", "resting"}
)
"""Words in brackets that say what is measured, not in which unit."""
_BRACKETS = re.compile(r"[(\[{]\s*([^)\]}]*?)\s*[)\]}]")


class UnknownUnitError(ValueError):
    """A bracket in a header that is no unit of its field; the text is the bracket's content."""


def unit_of(word: str) -> str | None:
    """The unit that a word stands for: h, min, s, ms or bpm."""
    return _BY_WORD.get(" ".join(word.casefold().replace(".", "").split()))


def unit_in_header(field: str, header: str) -> str | None:
    """The unit that a header names, in brackets or as its last word; None where it names none.

    UnknownUnitError for a bracket that is understood neither as a unit of this field nor as a remark.
    """
    allowed = UNITS_OF.get(field)
    if allowed is None:
        return None
    for inside in _BRACKETS.findall(header):
        unit = unit_of(inside)
        if unit in allowed:
            return unit
        if inside.casefold().strip() not in _NO_UNIT:
            raise UnknownUnitError(inside)
    text = re.split(r"[\s_,/-]+", _BRACKETS.sub("", header).strip())
    last = text[-1] if len(text) > 1 else ""
    unit = unit_of(last) if len(last) > 1 or last == "h" else None
    return unit if unit in allowed else None


FIELDS = (
    "date",
    "bedtime",
    "wake_time",
    "total_sleep_min",
    "resting_hr",
    "rmssd_ms",
    "stairs_unaided",
    "squat_unaided",
    "soreness",
    "pain",
    "pain_where",
    "energy",
    "mood",
    "symptoms",
    "note",
    "gone",
    "seen_doctor",
)
EXTRA = ("unit", "date_order", "decimal_comma")


class ColumnsError(ValueError):
    """key, then what is wrong."""


def read_options(timezone: str, columns: dict[str, Any], tables: Sequence[dict[str, Any]]) -> IntakeOptions:
    """What reading an athlete's files needs: [athlete.columns] for all, [[athlete.table]] for those of a name."""
    made = []
    for number, table in enumerate(tables, start=1):
        named = {key: value for key, value in table.items() if key != "files"}
        try:
            made.append(_table(table.get("files"), named))
        except ColumnsError as error:
            raise ColumnsError(f"table {number}: {error}") from None
    try:
        usual = _table("*", columns)
    except ColumnsError as error:
        raise ColumnsError(f"columns: {error}") from None
    return IntakeOptions(timezone, usual.columns, usual.date_order, usual.decimal_comma, tuple(made))


def _table(files: object, named: dict[str, Any]) -> TableNames:
    if not isinstance(files, str) or not files.strip():
        raise ColumnsError(words.roster.TABLE_FILES)
    order, comma = named.get("date_order"), named.get("decimal_comma")
    if order not in (None, "ymd", "dmy", "mdy"):
        raise ColumnsError(words.roster.WRONG_DATE_ORDER.format(order=order))
    if comma not in (None, True, False):
        raise ColumnsError(words.roster.WRONG_DECIMAL_COMMA.format(comma=comma))
    return TableNames(files.strip(), read_columns(named), order, comma)


def read_columns(table: dict[str, Any]) -> dict[str, ColumnMap]:
    """Field -> header and unit. A unit stands beside the header, in `unit`, or in brackets in the header itself."""
    units = table.get("unit", {})
    if isinstance(units, str):
        units = {"total_sleep_min": units}
    if not isinstance(units, dict):
        raise ColumnsError(words.roster.UNIT + ", ".join(UNITS) + words.roster.OR_TABLE_OF_UNITS)
    columns: dict[str, ColumnMap] = {}
    for key, value in table.items():
        if key in EXTRA:
            continue
        if key not in FIELDS:
            raise ColumnsError(words.roster.UNKNOWN_FIELD.format(key=key) + ", ".join(FIELDS))
        columns[key] = _column(key, value, units.get(key))
    for key, unit in units.items():
        known = unit_of(str(unit)) or unit
        _check_unit(f"unit.{key}", known)
        columns.setdefault(key, ColumnMap(key, known))
    return columns


def _column(key: str, value: Any, unit: str | None) -> ColumnMap:
    if isinstance(value, str):
        header = value
    elif isinstance(value, dict) and set(value) <= {"header", "unit"} and isinstance(value.get("header"), str):
        header, unit = value["header"], value.get("unit", unit)
    else:
        raise ColumnsError(words.roster.MUST_BE_HEADER.format(key=key, value=value))
    if unit is not None:
        unit = unit_of(str(unit)) or unit
        _check_unit(f"{key} unit", unit)
        return ColumnMap(header, unit)
    try:
        return ColumnMap(header, unit_in_header(key, header))
    except UnknownUnitError as inside:
        told = words.roster.HEADER_WITH_UNIT.format(header=header)
        raise ColumnsError(
            words.roster.UNKNOWN_UNIT.format(key=key, header=header, inside=inside, told=told) + ", ".join(UNITS)
        ) from None


def _check_unit(where: str, unit: Any) -> None:
    if unit not in UNITS:
        raise ColumnsError(words.roster.UNIT_OF_FIELD.format(where=where, unit=unit) + ", ".join(UNITS))
