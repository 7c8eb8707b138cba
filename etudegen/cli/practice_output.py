"""What the commands of daily practice print: plans as tables for people and as JSON for programs, what was recorded."""

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import typer

from etudegen.practice.items import said
from etudegen.practice.journal import Journal
from etudegen.practice.session import Session, block_name, clock, reasons, remarks


def plan_table(session: Session, level: float | None) -> str:
    """Return a plan as a table with its remarks."""
    lines = [f"{session.profile.label}, {session.day}, {session.plan.minutes} minutes, {session.plan.aims_told}", ""]
    elapsed = 0
    blocks = session.plan.blocks
    names = [block_name(block) + (" (strenuous)" if block.strenuous else "") for block in blocks]
    width = max(map(len, names)) + 2
    for number, (block, name, why) in enumerate(zip(blocks, names, reasons(session.plan), strict=True), start=1):
        lines.append(f"{number:>2}  {clock(elapsed):>5}  {block.minutes:>3} min  {name:<{width}}{why}".rstrip())
        elapsed += block.minutes
    return "\n".join([*lines, "", *remarks(session, level)])


def plan_json(profile: Path | None, session: Session, files: Sequence[Path] | None) -> dict[str, Any]:
    """Return a plan as plain values, with whose it is, if there is a profile, and the files of its book, if made."""
    told: dict[str, Any] = {
        "profile": str(profile) if profile else None,
        "date": session.day.isoformat(),
        "minutes": session.plan.minutes,
        "aim": str(session.plan.aim),
        "aims": {str(aim): weight for aim, weight in session.plan.weights},
        "level": session.plan.level,
        "routine": session.plan.routine,
        "remarks": list(session.plan.remarks),
        "blocks": [
            {
                "part": str(block.part),
                "kind": block.kind,
                "minutes": block.minutes,
                "strenuous": block.strenuous,
                "low": str(block.low),
                "high": str(block.high),
                "tempo": block.tempo,
                "why": block.why,
                "items": list(map(asdict, items)),
            }
            for block, items in zip(session.plan.blocks, session.blocks_with_items, strict=True)
        ],
    }
    if files is not None:
        told["files"] = [str(path) for path in files]
    return told


def week_table(sessions: Sequence[Session]) -> str:
    """Return the days of a week, with what comes up in each block; the minutes of a day add up."""
    width = max(len(block_name(block)) for session in sessions for block in session.plan.blocks) + 2
    lines = []
    for session in sessions:
        lines.append(f"{session.day:%a} {session.day}, {session.plan.minutes} minutes, {session.plan.aims_told}")
        for block, items in zip(session.plan.blocks, session.blocks_with_items, strict=True):
            lines.append(f"  {block.minutes:>3} min  {block_name(block):<{width}}{said(items)}".rstrip())
        lines.append("")
    return "\n".join(lines).rstrip()


def tell_recorded(journal: Journal) -> None:
    """Say on standard error that, and where, something was recorded; and what stays under labels in it."""
    typer.echo(f"recorded in {journal.path}", err=True)
    if journal.unclaimed:
        labels = ", ".join(map(repr, journal.unclaimed))
        typer.echo(
            f"left as it was in the journal: what stands under {labels}, since no profile here, or more than one, has "
            "this label",
            err=True,
        )
