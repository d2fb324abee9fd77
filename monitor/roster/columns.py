"""[athlete.columns] and [[athlete.table]]: how an athlete's tables name their fields, and in which unit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from monitor.units import UNITS, UnknownUnitError, unit_in_header, unit_of
from monitor.values import ColumnMap, IntakeOptions, TableNames

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
        raise ColumnsError('files: names the files that it is for, like files = "sleep*.csv"')
    order, comma = named.get("date_order"), named.get("decimal_comma")
    if order not in (None, "ymd", "dmy", "mdy"):
        raise ColumnsError(f"date_order = {order!r}: must be ymd, dmy or mdy")
    if comma not in (None, True, False):
        raise ColumnsError(f"decimal_comma = {comma!r}: must be true or false")
    return TableNames(files.strip(), read_columns(named), order, comma)


def read_columns(table: dict[str, Any]) -> dict[str, ColumnMap]:
    """Field -> header and unit. A unit stands beside the header, in `unit`, or in brackets in the header itself."""
    units = table.get("unit", {})
    if isinstance(units, str):
        units = {"total_sleep_min": units}
    if not isinstance(units, dict):
        raise ColumnsError("unit: must be one of " + ", ".join(UNITS) + ", or a table of field = unit")
    columns: dict[str, ColumnMap] = {}
    for key, value in table.items():
        if key in EXTRA:
            continue
        if key not in FIELDS:
            raise ColumnsError(f"{key}: unknown field; allowed are " + ", ".join(FIELDS))
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
        raise ColumnsError(
            f'{key} = {value!r}: must be a header like "Sleep (h)", or {{ header = "Sleep", unit = "h" }}'
        )
    if unit is not None:
        unit = unit_of(str(unit)) or unit
        _check_unit(f"{key} unit", unit)
        return ColumnMap(header, unit)
    try:
        return ColumnMap(header, unit_in_header(key, header))
    except UnknownUnitError as inside:
        told = f'{{ header = "{header}", unit = "h" }}'
        raise ColumnsError(
            f'{key} = "{header}": ({inside}) is no unit that is known; say which it is: {told} with one of '
            + ", ".join(UNITS)
        ) from None


def _check_unit(where: str, unit: Any) -> None:
    if unit not in UNITS:
        raise ColumnsError(f"{where} = {unit!r}: must be one of " + ", ".join(UNITS))
