"""What files leave unsaid, said: rests in gaps, where tuplets begin and end, hairpins from note to note."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from etudegen.errors import InputError
from etudegen.notation.as_read import ReadHairpin, ReadMeasure, ReadNote
from etudegen.study import Tuplet
from etudegen.theory.rhythm import bar_length

# In quarter notes, what can be written with one sign; longer ones are not in use in melodies.
_VALUES = {
    "whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1), "eighth": Fraction(1, 2), "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8), "64th": Fraction(1, 16), "breve": Fraction(8),
}  # fmt: skip
_MOST_DOTS = 2
_LONGEST_BAR = 32
_METRES = (1, 2, 4, 8, 16, 32)


def _written(event: ReadNote) -> Fraction:
    """Return how long what is written lasts."""
    value = _VALUES[event.value] * (2 - Fraction(1, 2**event.dots))
    return value * Fraction(event.tuplet.normal, event.tuplet.actual) if event.tuplet else value


def _check(event: ReadNote, where: str) -> None:
    if event.grace and event.value in _VALUES:
        return
    if event.whole:
        return
    if event.value not in _VALUES or event.dots > _MOST_DOTS or _written(event) != event.duration:
        raise InputError(
            f"{where} holds a {'rest' if event.pitch is None else 'note'} of {event.duration} quarter notes, which no "
            f"single sign of 64th to breve with at most {_MOST_DOTS} dots says: write it as tied notes"
        )


def _rests(start: Fraction, end: Fraction, where: str) -> Iterator[ReadNote]:
    """Yield rests that fill a gap, longest first from its end, so that beats show."""
    at = start
    while at < end:
        fitting = [(name, value) for name, value in _VALUES.items() if value <= end - at and at % value == 0]
        if not fitting:
            raise InputError(f"{where} has a gap of {end - at} quarter notes that no rest fills: write the rests")
        name, value = max(fitting, key=lambda each: each[1])
        yield ReadNote(at, None, value, name)
        at += value


def _without_gaps(bar: ReadMeasure, where: str) -> ReadMeasure:
    events: list[ReadNote] = []
    now = Fraction(0)
    for event in sorted(bar.notes, key=lambda each: (each.at, not each.grace)):
        if event.at > now:
            events += _rests(now, event.at, where)
        if event.at < now:
            raise InputError(f"{where} has two notes at once: a melody has one note at a time")
        events.append(event)
        now = event.at + event.duration
    if not events:
        events = [ReadNote(Fraction(0), None, bar.plan.length, "whole", whole=True)]
        now = bar.plan.length
    return replace(bar, notes=tuple(events), plan=replace(bar.plan, length=now))


def _is_whole(tuplet: Sequence[ReadNote]) -> bool:
    """Tell whether events are one tuplet as the file says: it starts with the first and stops with the last."""
    places = [event.tuplet for event in tuplet if event.tuplet]
    marks = [(place.starts, place.stops) for place in places]
    return (
        marks[0][0]
        and marks[-1][1]
        and not any(starts for starts, _ in marks[1:])
        and not any(stops for _, stops in marks[:-1])
    )


def _said(run: Sequence[ReadNote]) -> Iterator[list[ReadNote]]:
    """Cut a run of notes in tuplets where the file says that one stops."""
    group: list[ReadNote] = []
    for event in run:
        group.append(event)
        if event.tuplet and event.tuplet.stops:
            yield group
            group = []
    if group:
        yield group


def _counted(run: Sequence[ReadNote]) -> Iterator[list[ReadNote]]:
    """Cut a run of notes in tuplets where their sum can be written without one."""
    group: list[ReadNote] = []
    for event in run:
        group.append(event)
        if not event.grace and _is_written_plainly(group):
            yield group
            group = []
    if group:
        yield group


def _is_written_plainly(group: Sequence[ReadNote]) -> bool:
    """Tell whether the length of a group can be written without a tuplet."""
    length = sum((each.duration for each in group), Fraction(0))
    return length.denominator & (length.denominator - 1) == 0


def _with_tuplets(bar: ReadMeasure, where: str) -> ReadMeasure:
    """Return a bar whose tuplets all start and stop in it."""
    events: list[ReadNote] = []
    run: list[ReadNote] = []
    for event in [*bar.notes, None]:
        ratio = (event.tuplet.actual, event.tuplet.normal) if event and event.tuplet else None
        if event is not None and event.grace and run:
            run.append(event)
            continue
        if run and (ratio is None or run[0].tuplet is None or ratio != (run[0].tuplet.actual, run[0].tuplet.normal)):
            following = run[max(place for place, each in enumerate(run) if each.tuplet) + 1 :]
            run = run[: len(run) - len(following)]
            groups = list(_said(run))
            if not all(_is_whole(group) and _is_written_plainly(group) for group in groups):
                groups = list(_counted(run))
            for group in groups:
                if not _is_written_plainly(group):
                    raise InputError(f"{where} has a tuplet that is not filled: write all of its notes and rests")
                inside = [place for place, each in enumerate(group) if each.tuplet]
                for place, each in enumerate(group):
                    first, last = place == inside[0], place == inside[-1]
                    events.append(replace(each, tuplet=_tuplet(each.tuplet, first, last)))
            events += following
            run = []
        if event is not None:
            (run if event.tuplet else events).append(event)
    return replace(bar, notes=tuple(events))


def _tuplet(tuplet: Tuplet | None, first: bool, last: bool) -> Tuplet | None:
    return tuplet and replace(tuplet, starts=first, stops=last)


def completed_measures(bars: Iterable[ReadMeasure], file: str) -> tuple[ReadMeasure, ...]:
    """Return bars full of notes and rests that can be written; raise :class:`InputError` where they cannot."""
    completed = []
    metre = (4, 4)
    for bar in bars:
        where = f"bar {bar.plan.number} of {file!r}"
        metre = bar.plan.metre or metre
        if metre[1] not in _METRES or not 1 <= metre[0] <= _LONGEST_BAR:
            raise InputError(f"{where} is in {metre[0]}/{metre[1]}: such a metre cannot be written")
        if bar.plan.length > _LONGEST_BAR:
            raise InputError(f"{where} lasts {bar.plan.length} quarter notes: at most {_LONGEST_BAR} are allowed")
        for event in bar.notes:
            _check(event, where)
        full = _with_tuplets(_without_gaps(bar, where), where)
        whole = full.plan.length == bar_length(metre) and not full.texts
        written = (each for event in full.notes for each in _whole_or_written(event, where, whole))
        completed.append(replace(full, notes=tuple(written)))
    return _with_syllables(_with_ties(completed))


def _whole_or_written(event: ReadNote, where: str, whole: bool) -> Iterator[ReadNote]:
    """Yield a rest for a whole bar as one only where it fills a bar of the metre, else as rests that can be written."""
    if event.whole and not whole:
        yield from _rests(event.at, event.at + event.duration, where)
    else:
        yield event


def _with_ties(bars: Sequence[ReadMeasure]) -> list[ReadMeasure]:
    """Return bars without ties that lead to no note of the same pitch."""
    events = [
        (number, place) for number, bar in enumerate(bars) for place, each in enumerate(bar.notes) if not each.grace
    ]
    changed: dict[tuple[int, int], ReadNote] = {}
    for (number, place), following in zip(events, [*events[1:], None], strict=True):
        event = bars[number].notes[place]
        if event.tie not in ("start", "continue"):
            continue
        after = bars[following[0]].notes[following[1]] if following else None
        if after is None or after.pitch != event.pitch:
            changed[number, place] = replace(event, tie="stop" if event.tie == "continue" else "")
    return _replaced(bars, changed)


def _with_syllables(bars: Sequence[ReadMeasure]) -> tuple[ReadMeasure, ...]:
    """Return bars in whose words every hyphen leads to another syllable of the verse."""
    sung: dict[int, list[tuple[int, int]]] = {}
    for number, bar in enumerate(bars):
        for place, event in enumerate(bar.notes):
            for lyric in event.lyrics:
                sung.setdefault(lyric.verse, []).append((number, place))
    changed: dict[tuple[int, int], ReadNote] = {}
    for verse, places in sung.items():
        number, place = places[-1]
        event = changed.get((number, place), bars[number].notes[place])
        ends = {"begin": "single", "middle": "end"}
        lyrics = tuple(
            replace(each, syllabic=ends.get(each.syllabic, each.syllabic)) if each.verse == verse else each
            for each in event.lyrics
        )
        changed[number, place] = replace(event, lyrics=lyrics)
    return tuple(_replaced(bars, changed))


def _replaced(bars: Sequence[ReadMeasure], changed: Mapping[tuple[int, int], ReadNote]) -> list[ReadMeasure]:
    return [
        replace(bar, notes=tuple(changed.get((number, place), event) for place, event in enumerate(bar.notes)))
        for number, bar in enumerate(bars)
    ]


def completed_hairpins(hairpins: Iterable[ReadHairpin], bars: Sequence[ReadMeasure]) -> tuple[ReadHairpin, ...]:
    """Return hairpins that begin and end while a note sounds, without those that then are none.

    One that begins in a rest begins with the next note, and one that ends in a rest with the end of the last.
    """
    sounding = [
        (place, note.at, note.at + note.duration)
        for place, bar in enumerate(bars)
        for note in bar.sounding
        if not note.grace
    ]
    completed = []
    for hairpin in hairpins:
        starts = (max(hairpin.start, (place, at)) for place, at, end in sounding if (place, end) > hairpin.start)
        ends = (min(hairpin.end, (place, end)) for place, at, end in reversed(sounding) if (place, at) < hairpin.end)
        start, end = next(starts, None), next(ends, None)
        if start is not None and end is not None and start < end:
            completed.append(ReadHairpin(start, end, hairpin.grows))
    return tuple(completed)
