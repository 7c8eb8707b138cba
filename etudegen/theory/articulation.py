"""Articulations: which notes of a run are tongued, slurred and marked, as masks in a data file."""

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from etudegen.files.tables import Table
from etudegen.theory.library import find, library

_TOKENS = "().-"
_LONGEST_SYLLABLE = 3


class Mark(StrEnum):
    """A mark on a tongued note."""

    STACCATO = "staccato"
    TENUTO = "tenuto"
    ACCENT = "accent"
    STACCATISSIMO = "staccatissimo"
    STRONG_ACCENT = "strong-accent"


@dataclass(frozen=True, slots=True)
class Articulation:
    """How a run of notes is spoken.

    ``first`` and then ``mask``, repeated, hold a token for each note: ``(`` starts a slur, ``-`` goes on, ``)`` ends
    it, ``.`` is tongued by itself. ``whole`` slurs everything instead.
    """

    name: str
    first: str
    mask: str
    mark: Mark | None
    syllables: tuple[str, ...]
    swing: bool
    whole: bool

    def token(self, place: int) -> str:
        """Return the token of the note at a place, counted from 0."""
        if place < len(self.first):
            return self.first[place]
        return self.mask[(place - len(self.first)) % len(self.mask)]

    def spoken(self, place: int) -> str:
        """Return the syllable for the note at a place, or an empty text."""
        return self.syllables[place % len(self.syllables)] if self.syllables else ""


def _tokens(entry: Table, key: str) -> str:
    tokens = "".join(entry.text(key, "", lines=True).split())
    open_slur = False
    for each in tokens:
        if each not in _TOKENS or (each in ")-") != open_slur:
            raise entry.wrong(key, "write ( to start a slur, - to go on, ) to end it and . for a tongued note")
        open_slur = each in "(-"
    if open_slur:
        raise entry.wrong(key, "a slur that starts must end in the same group")
    return tokens


def _articulation(name: str, entry: Table) -> Articulation:
    entry.only("mask", "first", "mark", "syllables", "swing", "whole")
    mask, whole = _tokens(entry, "mask"), entry.flag("whole")
    if bool(mask) == whole:
        raise entry.wrong("mask", "give a mask of one note or more, or whole = true, and not both")
    if whole and entry.text("first", ""):
        raise entry.wrong("first", "one slur over the whole line leaves nothing to come first")
    syllables = tuple(entry.text("syllables", "").split())
    if syllables and len(syllables) != len(mask):
        raise entry.wrong("syllables", "give one syllable for each note of the mask")
    if any(len(syllable) > _LONGEST_SYLLABLE for syllable in syllables):
        raise entry.wrong("syllables", "a syllable has at most three letters")
    return Articulation(
        name=name,
        first=_tokens(entry, "first"),
        mask=mask,
        mark=entry.choice("mark", Mark) if "mark" in entry else None,
        syllables=syllables,
        swing=entry.flag("swing"),
        whole=whole,
    )


def articulation_names(own: Path | None = None) -> tuple[str, ...]:
    """Return the names of all articulations, those of an own file included."""
    return tuple(library("articulations", _articulation, own))


def articulation(name: str, own: Path | None = None) -> Articulation:
    """Return an articulation by name; raise :class:`InputError` for an unknown one or a bad file."""
    return find("articulation", name, library("articulations", _articulation, own))
