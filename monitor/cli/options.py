"""Options that many commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

HomeOption = Annotated[
    Path | None,
    typer.Option(
        "--home",
        metavar="DIR",
        help="Home folder with roster.toml (else FALLOW_HOME, else your user data folder).",
        show_default=False,
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")]
CsvOption = Annotated[bool, typer.Option("--csv", help="Print CSV for a spreadsheet.")]
AsOfOption = Annotated[
    str | None,
    typer.Option(
        "--as-of",
        metavar="TIME",
        help="Judge as of this moment, as in 2026-10-13T18:30 or 2026-10-13 (noon); "
        "local time of the named athlete, else of this machine, unless it carries an offset.",
        show_default=False,
    ),
]
AthleteArgument = Annotated[str, typer.Argument(metavar="ID", help="The athlete's id in the roster.")]
MaybeAthleteArgument = Annotated[
    str | None, typer.Argument(metavar="ID", help="The athlete's id in the roster; without it, everybody.")
]
FindingArgument = Annotated[
    str,
    typer.Argument(metavar="FINDING", help="Id of a finding, as `fallow findings` shows it; its beginning is enough."),
]
