"""roster.toml: who is watched, who is told; read, validated whole, frozen."""

from monitor.roster.read import parse_roster, read_roster
from monitor.roster.types import AlertSettings, Contact, Page, Roster, RosterAthlete

__all__ = ["AlertSettings", "Contact", "Page", "Roster", "RosterAthlete", "parse_roster", "read_roster"]
