"""A process that ends at a numbered step of a delivery."""

import socket
from collections.abc import Callable

from tests.monitor.alerts.scene import Scene


class Killed(BaseException):
    """The process ends here."""


def kill_at(step: str, time_round: int = 1) -> Callable[[str], None]:
    seen = [0]

    def at(name: str) -> None:
        if name == step:
            seen[0] += 1
            if seen[0] == time_round:
                raise Killed

    return at


def die_and_restart(scene: Scene) -> None:
    """The claims of this process become those of one that is gone."""
    with scene.store.writing() as con:
        con.execute(
            "UPDATE outbox SET claimed_by = ? WHERE claimed_by IS NOT NULL", [f"{socket.gethostname()}:999999999"]
        )
