"""The command that lists the kinds of exercise."""

import json as json_format
from typing import Annotated

import typer

from etudegen.exercises.kinds import all_kinds


def kinds(json: Annotated[bool, typer.Option("--json", help="Print rows as JSON.")] = False) -> None:
    """The kinds of exercise: what each is for, and how strenuous it is."""
    if json:
        rows = [{"kind": kind.name, "purpose": kind.purpose, "strain": kind.strain} for kind in all_kinds()]
        typer.echo("[\n" + ",\n".join(json_format.dumps(row) for row in rows) + "\n]")
        return
    for kind in all_kinds():
        typer.echo(f"{kind.name:<11}{kind.strain:<11}{kind.purpose}")
