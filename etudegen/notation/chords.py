"""Chord symbols as music21 objects that say exactly what is printed and what MusicXML's ``harmony`` holds."""

from collections.abc import Iterable
from typing import Any

from music21.harmony import ChordStepModification, ChordSymbol, NoChord
from music21.interval import Interval

from etudegen.notation.pitch import score_pitch
from etudegen.theory import symbols
from etudegen.theory.pitch import Pitch

_UNISONS = {-2: "dd1", -1: "d1", 0: "P1", 1: "A1", 2: "AA1"}
NO_CHORD = "N.C."


class LeadSheetChord(ChordSymbol):  # type: ignore[misc]
    """A chord symbol that is printed as ``root``, ``suffix`` and ``lowest`` say; music21 works out no notes for it.

    ``kind`` is a kind-value of MusicXML 4.0; each of ``degrees`` a degree, its alteration in half steps and what is
    done to it (``add``, ``alter`` or ``subtract``). ``half_steps`` are its notes above the root, as a play-along
    sounds them.
    """

    def __init__(
        self,
        root: Pitch,
        suffix: str = "",
        lowest: Pitch | None = None,
        kind: str = "none",
        degrees: Iterable[tuple[int, int, str]] = (),
        half_steps: tuple[int, ...] = (0,),
    ) -> None:
        super().__init__(updatePitches=False)
        self.half_steps = half_steps
        self.root_pitch, self.suffix, self.bass_pitch = root, suffix, lowest
        self._overrides["root"] = score_pitch(root)
        if lowest is not None:
            self._overrides["bass"] = score_pitch(lowest)
        self.chordKind, self.chordKindStr = kind, suffix
        for degree, alteration, done in degrees:
            self.chordStepModifications.append(ChordStepModification(done, degree, Interval(_UNISONS[alteration])))

    def inversion(self, *_: Any, **__: Any) -> None:
        """Say nothing: the bass note is printed instead."""
        return


class NoLeadSheetChord(NoChord):  # type: ignore[misc]
    """Where no chord sounds, until the next symbol."""

    def __init__(self) -> None:
        super().__init__(NO_CHORD)


def lead_sheet_chord(symbol: symbols.ChordSymbol | None) -> LeadSheetChord | NoLeadSheetChord:
    """Return a chord symbol of the domain, or None where no chord sounds, as one of the score."""
    if symbol is None:
        return NoLeadSheetChord()
    quality = symbol.quality
    half_steps = tuple(degree.half_steps for degree in quality.degrees)
    return LeadSheetChord(symbol.root, quality.symbol, symbol.bass, quality.kind, quality.altered, half_steps)
