"""The commands that show the instrument itself."""

import json
from typing import Annotated, Any

import typer

from etudegen.errors import InputError
from etudegen.exercises.settings import number_in
from etudegen.instrument.catalogue import USUAL, instrument_keys
from etudegen.instrument.catalogue import instrument as find_instrument
from etudegen.instrument.tables import FingeringRow, TuningRow, fingering_rows, tuning_rows
from etudegen.instrument.tube import STANDARD_A4, Loops, checked_a4, checked_loops
from etudegen.theory.pitch import WrittenPitch

_Name = Annotated[str, typer.Option("--instrument", metavar="NAME", help=f"One of {', '.join(instrument_keys())}.")]
_Json = Annotated[bool, typer.Option("--json", help="Print rows as JSON.")]


def fingerings(
    instrument: _Name = USUAL,
    low: Annotated[str | None, typer.Option("--low", metavar="NOTE", help="Lowest written note.")] = None,
    high: Annotated[str | None, typer.Option("--high", metavar="NOTE", help="Highest written note.")] = None,
    json: _Json = False,
) -> None:
    """Chart of fingerings: every written note, its valves, and the alternates."""
    player = find_instrument(instrument)
    lowest = player.low if low is None else WrittenPitch.parse(low)
    highest = player.high if high is None else WrittenPitch.parse(high)
    rows = list(fingering_rows(player, lowest, highest))
    if json:
        _print_json([_fingering_json(row) for row in rows])
        return
    typer.echo(f"Fingerings of the {player.name}, written {lowest.pretty} to {highest.pretty}\n")
    typer.echo("note   valves   alternates")
    for row in rows:
        others = "  ".join(map(str, row.alternates))
        typer.echo(f"{row.written.pretty:<7}{row.valves or '-'!s:<9}{others}".rstrip())


def _fingering_json(row: FingeringRow) -> dict[str, Any]:
    return {
        "written": str(row.written),
        "valves": str(row.valves) if row.valves else None,
        "alternates": [str(valves) for valves in row.alternates],
    }


def _parse_loops(text: str) -> Loops:
    percents = [number for number in map(number_in, text.replace(",", " ").split()) if number is not None]
    if len(percents) != 3 or len(text.replace(",", " ").split()) != len(percents):
        raise InputError(
            f"cannot read the loops {text!r}: give what valves 1, 2 and 3 add in per cent, like 12.2,5.95,20"
        )
    return checked_loops(*(percent / 100 for percent in percents))


def _parse_a4(text: str) -> float:
    hertz = number_in(text)
    if hertz is None:
        raise InputError(f"a4 {text!r} is not allowed: give 380 to 500 hertz, like 442")
    return checked_a4(hertz)


def tuning(
    instrument: _Name = USUAL,
    a4: Annotated[str, typer.Option("--a4", metavar="HZ", help="Reference pitch in hertz.")] = f"{STANDARD_A4:g}",
    loops: Annotated[
        str | None,
        typer.Option("--loops", metavar="V1,V2,V3", help="What valves 1, 2 and 3 add, in per cent of the open tube."),
    ] = None,
    json: _Json = False,
) -> None:
    """Tuning of each partial of each valve combination, and how far to draw the third slide."""
    player = find_instrument(instrument)
    pitch = _parse_a4(a4)
    rows = list(tuning_rows(player, pitch, None if loops is None else _parse_loops(loops)))
    if json:
        _print_json([_tuning_json(row) for row in rows])
        return
    length = player.tube(pitch).length
    typer.echo(f"Tuning of the {player.name}, A4 = {pitch:g} Hz, open tube {length:.0f} mm (effective)")
    typer.echo("Cents: + sharp, - flat of equal temperament. Partial 1 has no resonance of its own.")
    valves = None
    for row in rows:
        if row.valves != valves:
            valves = row.valves
            slide = f", draw the third slide {row.slide_mm:.1f} mm" if row.slide_mm else ""
            typer.echo(f"\nvalves {valves}{slide}\npartial  written  sounding     hertz   cents")
        names = f"{row.written.pretty:<7}  {row.sounding.pretty:<8}"
        typer.echo(f"{row.partial:>7}  {names}{row.hertz:>10.2f}{row.cents:>+8.1f}")


def _tuning_json(row: TuningRow) -> dict[str, Any]:
    return {
        "partial": row.partial,
        "valves": str(row.valves),
        "written": str(row.written),
        "sounding": str(row.sounding),
        "hertz": round(row.hertz, 4),
        "cents": round(row.cents, 3) + 0.0,
        "slide_mm": None if row.slide_mm is None else round(row.slide_mm, 2),
    }


def _print_json(rows: list[dict[str, Any]]) -> None:
    typer.echo("[\n" + ",\n".join(json.dumps(row) for row in rows) + "\n]")
