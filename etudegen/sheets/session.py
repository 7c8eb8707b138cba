"""From a session to its book: one PDF in playing order, and MusicXML of each study beside it."""

import datetime
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from etudegen.engraving.book import Book, Card, PlanRow, PlanSheet, Section, halfway
from etudegen.engraving.engraver import Engraver
from etudegen.errors import InputError
from etudegen.exercises.common import HEALTH
from etudegen.exercises.kinds import practice_of
from etudegen.files.writing import Written, check_free, prepare_folder, write_all
from etudegen.practice.own_material import OwnTune
from etudegen.practice.plan import Block
from etudegen.practice.profile import Aim
from etudegen.practice.rules import Part, is_strenuous
from etudegen.practice.session import Session, block_name, card_points, clock, has_music, reasons, remarks, today
from etudegen.sheets.play_along import session_sound
from etudegen.study import Paper, Study
from etudegen.tunes.archive import read_file

if TYPE_CHECKING:
    # Not loaded with this module: the engraver has to be started before the music library is.
    from music21.stream import Score

# Notes on a card; half of them where it goes on after a rest.
_RULED_LINES = 12
_LINES_OF_A_STAFF = 2
_LILYPOND_PAPER = {Paper.A4: "a4", Paper.LETTER: "letter"}


@dataclass(frozen=True, slots=True)
class _Entry:
    """A section to be: a study or a tune with its place among the blocks and in its block, or a page without music."""

    bookmark: str
    heading: str
    study: Study | None = None
    place: tuple[int, int] = (0, 0)
    text: PlanSheet | Card | None = None
    tune: OwnTune | None = None


def make_book(
    session: Session,
    folder: Path,
    engraver: Engraver,
    *,
    name: str,
    paper: Paper = Paper.A4,
    level: float | None = None,
    force: bool = False,
    audio: bool = False,
    tell: Callable[[str], None] = lambda left_out: None,
) -> Written:
    """Write a session's book and the MusicXML of its studies into a folder, all of them or none.

    See :func:`book_files`. A file that was not written here, or was changed since, is not replaced without ``force``.
    """

    def check(names: list[str]) -> None:
        prepare_folder(folder)
        if not force:
            check_free(folder, names)

    files = book_files(session, engraver, name=name, paper=paper, level=level, audio=audio, tell=tell, check=check)
    return write_all(folder, files, force=force)


def book_files(
    session: Session,
    engraver: Engraver,
    *,
    name: str,
    paper: Paper = Paper.A4,
    level: float | None = None,
    audio: bool = False,
    tell: Callable[[str], None] = lambda left_out: None,
    check: Callable[[list[str]], None] = lambda names: None,
) -> dict[str, bytes]:
    """Return a session's book (the first file) and the MusicXML of its studies, by the names of their files.

    ``engraver`` is one with one or two parts; ``name`` tells whose the book is, plainly: its files are called by it,
    the day, the minutes and the aim; with ``audio`` there is a sound file as long as the session. ``tell`` is called
    with each tune, or key of one, that had to be left out, and ``check`` with all names before anything is engraved.
    """
    return days_files([session], engraver, name=name, paper=paper, level=level, audio=audio, tell=tell, check=check)


def days_files(
    sessions: Sequence[Session],
    engraver: Engraver,
    *,
    name: str,
    paper: Paper = Paper.A4,
    level: float | None = None,
    audio: bool = False,
    aims: Mapping[Aim, int] | None = None,
    tell: Callable[[str], None] = lambda left_out: None,
    check: Callable[[list[str]], None] = lambda names: None,
    read: Callable[[Path], bytes] = read_file,
) -> dict[str, bytes]:
    """Return one book for sessions of several days (the first file) and the other files of each, by their names.

    See :func:`book_files`; ``engraver`` is one with two parts where there are several days, ``aims`` are those that
    were asked for, and ``read`` returns what is in the file of a tune. All but the book is called as for each of the
    days alone.
    """
    days = [_day(session, name, paper, level, tell, read) for session in sessions]
    stem = _stem(name, sessions, paper, level, aims)
    names = (name for day in days for name in (*([day.sound] if audio else []), *day.files.values()))
    check([f"{stem}.pdf", *names])
    # Loaded here and not above: the engraver is starting by now, and loads its own libraries meanwhile.
    from etudegen.export.musicxml import musicxml  # noqa: PLC0415

    contents: dict[str, bytes] = {}
    for day in days:
        scores: dict[tuple[int, int], Score] = dict(day.tune_scores)
        # The first part is being printed while the next is still being written.
        parts = [day.entries] if len(days) > 1 else _parts(day.entries, engraver.parts)
        for entries in parts:
            book = _book(day.session, entries, paper, scores)
            if len(days) > 1:
                book = replace(book, bookmark=in_words(day.session.day))
            engraver.engrave(replace(book, goes_on=entries is not parts[-1]))
        if audio:
            # Before MusicXML is written, which moves what stands under octave brackets.
            contents[day.sound] = _sound(day.session, scores)
        # Day by day: the scores of all of them together would take much memory.
        contents |= {day.files[place]: musicxml(score) for place, score in scores.items()}
    return {f"{stem}.pdf": engraver.pdf(), **contents}


def in_words(day: datetime.date) -> str:
    """Return a day as people write it, such as ``Thursday 26 November 2026``."""
    return f"{day:%A} {day.day} {day:%B} {day.year}"


@dataclass(frozen=True, slots=True)
class _Day:
    """What the book of a day is to hold, with the scores of its tunes, and how its files are called, by place."""

    session: Session
    entries: list[_Entry]
    files: dict[tuple[int, int], str]
    sound: str
    tune_scores: dict[tuple[int, int], "Score"]


def _day(
    session: Session,
    name: str,
    paper: Paper,
    level: float | None,
    tell: Callable[[str], None],
    read: Callable[[Path], bytes],
) -> _Day:
    stem = _stem(name, [session], paper, level)
    tune_scores, session = _tune_scores(session, paper, tell, read)
    entries = _entries(session, paper, level)
    files = {entry.place: _music_file(stem, session, entry) for entry in entries if entry.study or entry.tune}
    return _Day(session, entries, files, f"{stem}.flac", tune_scores)


def _stem(
    name: str, sessions: Sequence[Session], paper: Paper, level: float | None, aims: Mapping[Aim, int] | None = None
) -> str:
    """Return how the files of sessions are called: by whose they are, when, how long, and what for.

    What several are for are the ``aims`` that were asked for, else the player's: days take turns in them.
    """
    first, last = sessions[0].day.isoformat(), sessions[-1].day.isoformat()
    words = [name, first if first == last else f"{first}-to-{last}", f"{sessions[0].plan.minutes}-min"]
    weights: Sequence[tuple[Aim, int]] = sessions[0].plan.weights
    if len(sessions) > 1 and weights:
        asked = aims or sessions[0].profile.aims
        weights = tuple((aim, asked[aim]) for aim in sorted(asked, key=lambda aim: -asked[aim]) if asked[aim])
    words += [*_aims_in_names(weights), *(["letter"] if paper is Paper.LETTER else [])]
    return "-".join([*words, *([f"{level:g}-dba".replace(".", "-")] if level is not None else [])])


def _aims_in_names(weights: Sequence[tuple[Aim, int]]) -> list[str]:
    """Return the aims as files are called by them: with their weights where these tell one session from another."""
    alike = len({weight for _, weight in weights}) <= 1
    return [str(aim) if alike else f"{aim}-{weight}" for aim, weight in weights]


def book_of(session: Session, paper: Paper, level: float | None = None) -> Book:
    """Return a session's book as the engraver is told of it, in one piece."""
    scores, session = _tune_scores(session, paper, lambda _: None, read_file)
    return _book(session, _entries(session, paper, level), paper, scores)


def plan_sheet(
    session: Session, level: float | None = None, sections: Mapping[int, tuple[int, int]] | None = None
) -> PlanSheet:
    """Return what the first page of a session's book says; ``sections`` are those of the blocks, the first and last."""
    title = f"Practice, {in_words(session.day)}"
    return PlanSheet(title, _about(session), tuple(_rows(session, sections or {})), remarks(session, level))


def _entries(session: Session, paper: Paper, level: float | None) -> list[_Entry]:
    """Return what is in a session's book, in playing order."""
    sections: dict[int, tuple[int, int]] = {}
    entries = []
    for number, (block, entry) in enumerate(_after_plan(session, paper), start=1):
        first, _ = sections.get(block, (number, number))
        sections[block] = (first, number)
        entries.append(entry)
    return [_Entry("Plan", "", text=plan_sheet(session, level, sections)), *entries]


def _after_plan(session: Session, paper: Paper) -> Iterator[tuple[int, _Entry]]:
    """Yield what comes after the plan, in playing order, each with the place of its block."""
    for place, block in enumerate(session.plan.blocks):
        if block.part is Part.REST:
            continue
        name = f"{block_name(block)}{', continued' if block.continued else ''}"
        heading = f"{place + 1} · {name} · {block.minutes} min"
        if place not in session.filled:
            about = f"{block.minutes} minutes · {block.why}"
            lines = _RULED_LINES // 2 if block.continued else _RULED_LINES
            # Where there is music it says itself what to aim for.
            if not has_music(session, place):
                # What is heard is written down as notes.
                staves = lines // _LINES_OF_A_STAFF if block.kind == "writing-down" else 0
                card = Card(name.capitalize(), about, card_points(session, place), lines, staves)
                yield place, _Entry(heading, heading, text=card)
            if place in session.tunes:
                bookmark = f"{heading} · {session.tunes[place].name}"
                yield place, _Entry(bookmark, heading, place=(place, 1), tune=session.tunes[place])
            if place in session.sheets:
                study = replace(session.sheets[place], paper=paper, instruction=" ".join(card_points(session, place)))
                yield place, _Entry(f"{heading} · {study.title}", heading, study, (place, 1))
            continue
        for number, study in enumerate(session.filled[place].studies, start=1):
            bookmark = heading if number == 1 else study.title
            yield place, _Entry(bookmark, heading, replace(study, paper=paper), (place, number))


def _about(session: Session) -> str:
    profile, plan = session.profile, session.plan
    span = f"{profile.low.pretty} to {profile.high.pretty}"
    return f"{profile.label} · {profile.instrument.name} · {span} · {plan.minutes} minutes · {plan.aims_told}"


def _rows(session: Session, sections: Mapping[int, tuple[int, int]]) -> Iterator[PlanRow]:
    elapsed = 0
    for place, (block, why) in enumerate(zip(session.plan.blocks, reasons(session.plan), strict=True)):
        what = f"{place + 1} · {block_name(block)}{_strain(block)}"
        rest, here = block.part is Part.REST, sections.get(place)
        yield PlanRow(clock(elapsed), f"{block.minutes} min", what, why, rest, today(session, place), here)
        elapsed += block.minutes


def _strain(block: Block) -> str:
    return ", strenuous" if block.strenuous else ""


def _parts(entries: list[_Entry], count: int) -> list[list[_Entry]]:
    """Return the entries in one part or two that are about as much work."""
    if count == 1 or len(entries) == 1:
        return [entries]
    works = [1 + sum(len(line.events) for line in entry.study.lines) if entry.study else 1 for entry in entries]
    cut = halfway(works)
    return [entries[:cut], entries[cut:]]


def _book(session: Session, entries: list[_Entry], paper: Paper, scores: dict[tuple[int, int], "Score"]) -> Book:
    """Return entries as a book, or a part of one; the scores written for it are put by their places.

    Those of tunes are there already.
    """
    from etudegen.engraving.reading import read_page  # noqa: PLC0415 - see make_book
    from etudegen.notation.score import write_score  # noqa: PLC0415

    sections: list[Section] = []
    for entry in entries:
        if entry.study is not None:
            scores[entry.place] = write_score(entry.study)
            page = read_page(scores[entry.place])
            said = {**page.texts, "caution": _caution(session.plan.blocks[entry.place[0]], entry.study)}
            sections.append(Section(entry.bookmark, entry.heading, replace(page, texts=said)))
        elif entry.tune is not None:
            sections.append(Section(entry.bookmark, entry.heading, read_page(scores[entry.place])))
        elif entry.text is not None:
            sections.append(Section(entry.bookmark, entry.heading, entry.text))
    running = f"{session.profile.label} · {session.day.isoformat()} · {session.plan.minutes} minutes"
    title = f"Practice, {in_words(session.day)}"
    return Book(title, running, _LILYPOND_PAPER[paper], tuple(sections))


def _caution(block: Block, study: Study) -> str:
    """Return what to beware of with just this study, where it strains; what is true of all stands under the plan."""
    practice = practice_of(block.kind)
    particular = is_strenuous(block.kind) or (practice is not None and practice.caution)
    return study.caution.removesuffix(HEALTH).strip() if particular else ""


def _tune_scores(
    session: Session, paper: Paper, tell: Callable[[str], None], read: Callable[[Path], bytes]
) -> tuple[dict[tuple[int, int], "Score"], Session]:
    """Return the scores of a session's tunes by their places, and the session without tunes that cannot be had."""
    if not session.tunes:
        return {}, session
    from etudegen.notation.score import write_score  # noqa: PLC0415 - see make_book
    from etudegen.tunes.keys import KeysWanted, in_keys, study_of, tune_of  # noqa: PLC0415

    profile = session.profile
    scores: dict[tuple[int, int], Score] = {}
    for place, tune in session.tunes.items():
        wanted = KeysWanted(profile.instrument, profile.low, profile.high, keys=" ".join(tune.keys), paper=paper)
        try:
            made = in_keys(tune_of(read(tune.path), tune.path.name, None, profile.instrument), wanted)
        except InputError as error:
            tell(f"{tune.name}: {error}")
            continue
        sheet = replace(study_of(made, wanted), instruction=" ".join(card_points(session, place)))
        scores[place, 1] = write_score(sheet)
        for unfit in made.unfit:
            tell(f"{tune.name} in {unfit.key}: {unfit.why}")
    kept = {place: tune for place, tune in session.tunes.items() if (place, 1) in scores}
    return scores, replace(session, tunes=kept)


def _sound(session: Session, scores: Mapping[tuple[int, int], "Score"]) -> bytes:
    """Return a session as sound: what is in the scores of each block, changes as often as there is time for them."""
    from etudegen.sound.performance import perform  # noqa: PLC0415 - see make_book

    blocks = []
    for place, block in enumerate(session.plan.blocks):
        seconds = Fraction(60 * block.minutes)
        played = [perform(score) for (at, _), score in sorted(scores.items(), key=lambda each: each[0]) if at == place]
        if place in session.changes:
            played *= max(1, int(seconds / session.changes[place].whole_seconds))
        blocks.append((played, seconds))
    return session_sound(blocks)


def _music_file(name: str, session: Session, entry: _Entry) -> str:
    block, number = entry.place
    own = "changes" if block in session.changes else "etude" if block in session.etudes else ""
    what = "tune" if entry.tune else own or session.plan.blocks[block].kind
    return f"{name}-{block + 1:02d}-{what}{'' if number == 1 else f'-{number}'}.musicxml"
