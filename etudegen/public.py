"""The public face: plain values in, music and the bytes of files out. Nothing here writes a file.

What is read as a text is read as on the command line: notes such as ``F#3`` are written pitches, tempi are quarter
notes a minute, minutes are whole. What cannot be raises :class:`~etudegen.errors.InputError` with what is wrong, which
value, and what is allowed; LilyPond missing or failing raises :class:`~etudegen.errors.MachineError`.
"""

import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from etudegen.engraving.engraver import PARTS, Engraver, SpareEngravers
from etudegen.errors import InputError, MachineError, check_type, shown
from etudegen.exercises.common import Common, Fingerings
from etudegen.exercises.kinds import Kind, Strain, add_kind, all_kinds, kind_named
from etudegen.exercises.settings import Setting, one_of, settings_of, whole_number
from etudegen.files.names import distinct_name
from etudegen.files.tables import Table
from etudegen.instrument.catalogue import USUAL
from etudegen.instrument.catalogue import instrument as _instrument
from etudegen.practice.items import Item
from etudegen.practice.profile import Aim, Profile, profile_of
from etudegen.practice.routines import routine as _routine
from etudegen.practice.rules import LEAST_LEVEL, LONGEST_SESSION, MOST_LEVEL, SHORTEST_SESSION
from etudegen.practice.session import Session, make_session
from etudegen.practice.spacing import History, State
from etudegen.sheets.contents import Format, contents_of
from etudegen.sheets.play_along import Sound
from etudegen.sheets.play_along import play_along as _play_along
from etudegen.sheets.session import book_files as _book_files
from etudegen.sound.backing import Backing
from etudegen.study import Line, Paper, Rest, Study, Tone
from etudegen.theory.keys import KeyOrder
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.tempo import FASTEST, SLOWEST

if TYPE_CHECKING:
    from music21.stream import Score

    from etudegen.sound.performance import Performance
    from etudegen.tunes.tune import Tune

__all__ = [
    "Backing", "Common", "Engraver", "History", "InputError", "Item", "Kind", "Line", "MachineError", "Profile", "Rest",
    "Session", "Setting", "Sound", "SpareEngravers", "State", "Strain", "Study", "Tone", "add_kind", "book",
    "book_files", "exercise", "in_keys", "kinds", "lilypond", "midi", "musicxml", "parameters", "pdf", "performance",
    "plan", "play_along", "profile", "score", "settings", "svg", "tune",
]  # fmt: skip


def _text(name: str, value: object) -> str:
    check_type(name, value, str, "a text")
    return str(value)


def _number(name: str, value: object) -> str:
    check_type(name, value, int, "a whole number")
    return shown(value)


def _study(of: object) -> Study:
    if not isinstance(of, Study):
        raise InputError(f"{shown(of)} is no study: make one with etudegen.exercise or etudegen.in_keys")
    return of


def kinds() -> tuple[Kind, ...]:
    """Return the kinds of exercise: each with its name, what it is for, and how strenuous it is."""
    return all_kinds()


def settings(kind: str) -> dict[str, Setting]:
    """Return what can be asked of a kind of exercise, by name: meaning, default, and what is allowed."""
    return dict(settings_of(kind_named(_text("kind", kind)).parameters))


def parameters(kind: str, *, concert: bool = False, **asked: Any) -> Common:
    """Return the checked parameters of a kind of exercise; ``concert`` reads the notes of the range as sounding."""
    check_type("concert", concert, bool, "True or False")
    return kind_named(_text("kind", kind)).parameters.of(asked, concert=concert)


def exercise(kind: str, *, concert: bool = False, **asked: Any) -> Study:
    """Make a study of a kind of exercise from plain values.

    >>> import etudegen
    >>> made = etudegen.exercise("scales", scale="dorian", keys="D G", low="F#3", high="G5", tempo=96)
    >>> made.title, [line.label for line in made.lines], made.bars
    ('Dorian scales', ['D', 'G'], 16)

    The same values give the same study. What had to be left out is in its ``skipped``.
    """
    return kind_named(_text("kind", kind)).study(parameters(kind, concert=concert, **asked))


def tune(
    source: Path | str | bytes, *, instrument: str = USUAL, part: str | int | None = None, name: str = "tune"
) -> "Tune":
    """Read a tune from MusicXML, plain or compressed: a file's path, or its bytes with a ``name`` for complaints.

    It is at written pitch for the instrument. ``part`` is a number from 1, an id or a name, where there are several.
    What could not be kept is in its ``lost``.
    """
    from etudegen.tunes.keys import read_tune, tune_of  # noqa: PLC0415 - brings the music library along

    playing = _instrument(_text("instrument", instrument))
    wanted = None if part is None else shown(part) if type(part) is int else _text("part", part)
    called = _text("name", name)
    check_type("source", source, (bytes, str, Path), "the path of a MusicXML file, or its bytes")
    if isinstance(source, bytes):
        return tune_of(source, called, wanted, playing)
    if not str(source):
        raise InputError("source '' is not allowed: give the path of a MusicXML file, or its bytes")
    return read_tune(Path(source), wanted, playing)


def in_keys(
    melody: "Tune",
    *,
    instrument: str = USUAL,
    low: str = "F#3",
    high: str = "G5",
    keys: str = "all",
    order: str | None = None,
    seed: int = 1,
    tempo: int | None = None,
    fingerings: str = "changes",
    paper: str = "A4",
    title: str = "",
) -> Study:
    """Return a tune in keys as a study: written tonics, ``all``, or ``home``; each in the octave that fits best.

    Keys in which it does not fit between ``low`` and ``high`` are in its ``skipped``.
    """
    from etudegen.tunes.keys import KeysWanted, study_of  # noqa: PLC0415 - see tune
    from etudegen.tunes.keys import in_keys as moved  # noqa: PLC0415
    from etudegen.tunes.tune import Tune  # noqa: PLC0415

    check_type("melody", melody, Tune, "a tune that etudegen.tune has read")
    wanted = KeysWanted(
        instrument=_instrument(_text("instrument", instrument)),
        low=WrittenPitch.parse(_text("low", low)),
        high=WrittenPitch.parse(_text("high", high)),
        keys=_text("keys", keys),
        order=None if order is None else one_of(KeyOrder, "order")(_text("order", order)),
        seed=whole_number("seed", 0, 2**31 - 1)(_number("seed", seed)),
        tempo=None if tempo is None else whole_number("tempo", SLOWEST, FASTEST)(_number("tempo", tempo)),
        fingerings=one_of(Fingerings, "fingerings")(_text("fingerings", fingerings)),
        paper=one_of(Paper, "paper")(_text("paper", paper)),
        title=_text("title", title),
    )
    return study_of(moved(melody, wanted), wanted)


def score(of: Study) -> "Score":
    """Return a study as a music21 score of one part at written pitch; its notes have stable ids."""
    from etudegen.notation.score import write_score  # noqa: PLC0415 - brings the music library along

    return write_score(_study(of))


def performance(of: Study) -> "Performance":
    """Return what is heard of a study: notes in even time at concert pitch, with the ids of the written ones."""
    from etudegen.sound.performance import perform  # noqa: PLC0415 - brings the music library along

    return perform(score(of))


def musicxml(of: Study) -> bytes:
    """Return a study as MusicXML 4.0 in UTF-8.

    >>> import etudegen
    >>> etudegen.musicxml(etudegen.exercise("slurs", positions="0"))[:5]
    b'<?xml'
    """
    return contents_of(_study(of), [Format.MUSICXML]).formats[Format.MUSICXML]


def midi(of: Study) -> bytes:
    """Return a study as a Standard MIDI File of type 1, at concert pitch."""
    return contents_of(_study(of), [Format.MIDI]).formats[Format.MIDI]


def pdf(of: Study, *, engraver: Engraver | None = None) -> bytes:
    """Return a study as PDF.

    ``engraver`` is one that was kept waiting, such as ``SpareEngravers.take()`` gives; it engraves once, and is ended.
    """
    check_type("engraver", engraver, (Engraver, type(None)), "an etudegen.Engraver, or None")
    with engraver or Engraver() as started:
        return contents_of(_study(of), [Format.PDF], engraver=started).formats[Format.PDF]


def svg(of: Study) -> list[bytes]:
    """Return a study as SVG, page by page, as it is printed."""
    from etudegen.engraving.reading import read_page  # noqa: PLC0415 - brings the music library along

    with Engraver(pdf=False, svg=True) as engraver:
        engraver.engrave(read_page(score(of)))
        return engraver.svg()


def lilypond(of: Study) -> bytes:
    """Return a study as self-contained LilyPond text in UTF-8."""
    return contents_of(_study(of), [Format.LY]).formats[Format.LY]


def play_along(
    of: Study, backing: Backing | None = None, *, tempos: Sequence[int] = (), sounds: Sequence[Sound] = (Sound.WAV,)
) -> dict[str, bytes]:
    """Return MIDI and sound to play a study along with, by the names of the files, one of each for every tempo."""
    check_type("backing", backing, (Backing, type(None)), "an etudegen.Backing, or None")
    check_type("tempos", tempos, (list, tuple), "a list of whole numbers")
    check_type("sounds", sounds, (list, tuple), "a list of sounds")
    chosen = tuple(one_of(Sound, "sound")(_text("sound", sound)) for sound in sounds)
    at = tuple(whole_number("tempo", SLOWEST, FASTEST)(_number("tempo", tempo)) for tempo in tempos)
    return _play_along(performance(of), of.name, backing or Backing(), at, chosen)


def profile(**values: Any) -> Profile:
    """Make a player's profile of plain values, those of a profile's file.

    >>> import etudegen
    >>> etudegen.profile(label="third chair", low="G3", high="G5", aims={"jazz": 3, "sound": 1}).chief_aim.value
    'jazz'
    """
    return profile_of(Table(Path("profile"), values))


def plan(
    player: Profile,
    *,
    day: datetime.date | None = None,
    minutes: int | None = None,
    aim: str | None = None,
    routine: str | Path | None = None,
    history: History[Item] | None = None,
) -> Session:
    """Plan a session: its blocks with their studies, rests included.

    ``day`` is today and ``minutes`` what the profile says, if left out; ``aim`` one of the aims; ``routine`` the name
    or the file of one; ``history`` what was had before that day, as a journal tells it.

    >>> import datetime, etudegen
    >>> session = etudegen.plan(etudegen.profile(label="fourth chair"), day=datetime.date(2026, 11, 25), minutes=30)
    >>> sum(block.minutes for block in session.plan.blocks)
    30
    """
    if not isinstance(player, Profile):
        raise InputError(f"{shown(player)} is no profile: make one with etudegen.profile(label=...)")
    length = player.minutes_per_day if minutes is None else minutes
    if day is not None and (not isinstance(day, datetime.date) or isinstance(day, datetime.datetime)):
        raise InputError(f"day {shown(day)} is not allowed: give a datetime.date")
    if history is not None and not isinstance(history, History):
        raise InputError(f"history {shown(history)} is not allowed: give an etudegen.History")
    return make_session(
        player,
        day or datetime.date.today(),
        whole_number("minutes", SHORTEST_SESSION, LONGEST_SESSION)(_number("minutes", length)),
        None if aim is None else one_of(Aim, "aim")(_text("aim", aim)),
        None if routine is None else _routine(_text("routine", str(routine) if isinstance(routine, Path) else routine)),
        history,
    )


def book(of: Session, *, paper: str = "A4", level: float | None = None) -> bytes:
    """Return the book of a session as PDF: plan page, studies and cards; ``level`` is the sound level in dBA."""
    return next(iter(book_files(of, paper=paper, level=level).values()))


def book_files(
    of: Session, *, name: str = "session", paper: str = "A4", level: float | None = None, audio: bool = False
) -> dict[str, bytes]:
    """Return the files of a session by their names: the book first, the MusicXML of its studies, perhaps its sound."""
    if not isinstance(of, Session):
        raise InputError(f"{shown(of)} is no session: make one with etudegen.plan")
    if level is not None and (
        isinstance(level, bool) or not isinstance(level, int | float) or not LEAST_LEVEL <= level <= MOST_LEVEL
    ):
        raise InputError(f"level {shown(level)} is not allowed: give {LEAST_LEVEL:g} to {MOST_LEVEL:g} (dBA)")
    check_type("audio", audio, bool, "True or False")
    with Engraver(parts=PARTS) as engraver:
        return _book_files(
            of,
            engraver,
            name=distinct_name(_text("name", name)),
            paper=one_of(Paper, "paper")(_text("paper", paper)),
            level=level,
            audio=audio,
        )
