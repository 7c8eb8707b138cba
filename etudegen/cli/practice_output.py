"""How plans are printed: as a table for people, as JSON for programs."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from etudegen.practice.rules import Part
from etudegen.practice.session import Session, block_name, clock, remarks


def plan_table(session: Session, level: float | None) -> str:
    """Return a plan as a table with its remarks."""
    lines = [f"{session.player.label}, {session.day}, {session.plan.minutes} minutes, {session.plan.aim}", ""]
    elapsed = 0
    for number, block in enumerate(session.plan.blocks, start=1):
        name = block_name(block) + (" (strenuous)" if block.strenuous else "")
        lines.append(f"{number:>2}  {clock(elapsed):>5}  {block.minutes:>3} min  {name:<32}{block.why}")
        elapsed += block.minutes
    return "\n".join([*lines, "", *remarks(session, level)])


def plan_json(session: Session, files: Sequence[Path] | None) -> dict[str, Any]:
    """Return a plan as plain values; with the files of its book, if it was made."""
    told: dict[str, Any] = {
        "minutes": session.plan.minutes,
        "aim": str(session.plan.aim),
        "outline": session.plan.outline,
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
                "items": list(items),
            }
            for block, items in zip(session.plan.blocks, session.blocks_with_items, strict=True)
        ],
    }
    if files is not None:
        told["files"] = [str(path) for path in files]
    return told


def week_table(sessions: Sequence[Session]) -> str:
    """Return the days of a week, with what comes up in each block."""
    lines = []
    for session in sessions:
        lines.append(f"{session.day:%a} {session.day}, {session.plan.minutes} minutes")
        for block, items in zip(session.plan.blocks, session.blocks_with_items, strict=True):
            if block.part is not Part.REST:
                shown = ", ".join(items[:6]) + (" ..." if len(items) > 6 else "")
                lines.append(f"  {block.minutes:>3} min  {block_name(block):<32}{shown}".rstrip())
        lines.append("")
    return "\n".join(lines).rstrip()
