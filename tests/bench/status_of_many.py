"""`status` of many athletes with a judged season each: processor time an athlete, by what stands and judged anew.

Run by hand: python -m tests.bench.status_of_many [ATHLETES]
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from unittest import mock

from monitor import judging
from monitor.roster import read_roster
from monitor.store.database import Store
from monitor.views.status import status_view
from rules.limits import default_limits
from tests.bench import machine, seasons


def main(athletes: int) -> None:
    print(machine.about())
    with tempfile.TemporaryDirectory() as folder:
        home = seasons.home_of(Path(folder) / "home", athletes)
        roster = read_roster(home.roster)
        with Store(home.store).reading() as con:
            for name, holding in (("by what stands", judging._holding), ("judged anew", lambda *_: {})):
                before = machine.own_cpu_seconds()
                with mock.patch.object(judging, "_holding", holding):
                    status_view(con, roster, roster.athletes, seasons.NOW, default_limits())
                spent = machine.own_cpu_seconds() - before
                print(f"{athletes} athletes {name}: {spent:.2f} s of processor, {spent / athletes * 1e3:.1f} ms each")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
