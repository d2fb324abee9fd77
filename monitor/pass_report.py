"""What one pass did, as `scan` tells it."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field

from monitor.alerts.delivery import Delivery
from monitor.intake.storing import Tally


@dataclass(slots=True)
class PassReport:
    """Grows while the pass goes on; `counts` has the keys of `scan --json`."""

    files_seen: int = 0
    tally: Tally = field(default_factory=Tally)
    findings: int = 0
    delivery: Delivery | None = None

    def counts(self) -> dict[str, int]:
        told = asdict(self.tally)
        names = ("files_new", "read", "duplicate", "unreadable", "ignored", "waiting")
        facts = ("sessions", "nights", "mornings", "checkins")
        return {
            "files_seen": self.files_seen,
            **{name: told[name] for name in (*names, *facts)},
            "findings": self.findings,
            "alerts_sent": self.delivery.sent if self.delivery else 0,
            "alerts_waiting": self.delivery.waiting if self.delivery else 0,
        }
