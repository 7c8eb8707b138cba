"""Measures as they were read, joined to the lines of a study."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from etudegen.notation import ids
from etudegen.notation.as_read import ReadHairpin, ReadMeasure, ReadNote
from etudegen.notation.own_marks import OwnMarks
from etudegen.study import Grace, Hairpin, Line, Measure, NoteValue, Rest, Tone
from etudegen.theory.articulation import Mark
from etudegen.theory.rhythm import Metre, bar_length

_FERMATA, _BREATH = "fermata", "breath-mark"
_WHOLE_STEP = 2


@dataclass(frozen=True, slots=True)
class _Begun:
    """Where a line begins: the number of its first measure, and what holds there.

    ``tempo`` is that of the line where it is not the one that the part begins with.
    """

    place: int
    metre: Metre
    sharps: int
    tempo: int | None


def lines_of(measures: Sequence[ReadMeasure], hairpins: Sequence[ReadHairpin], own: OwnMarks) -> tuple[Line, ...]:
    """Return the lines of a part: those that a sheet of ours says, or all of it as one."""
    begun = list(_begun(measures, own))
    ends = [*(each.place for each in begun[1:]), len(measures)]
    return tuple(
        _line(measures[each.place : end], each, [one for one in hairpins if each.place <= one.start[0] < end], own)
        for each, end in zip(begun, ends, strict=True)
    )


def _begun(measures: Sequence[ReadMeasure], own: OwnMarks) -> Iterator[_Begun]:
    metre, sharps = (4, 4), 0
    first = tempo = measures[0].plan.tempo
    for place, measure in enumerate(measures):
        tempo = measure.plan.tempo or tempo
        metre = measure.plan.metre or metre
        sharps = sharps if measure.plan.sharps is None else measure.plan.sharps
        if place == 0 or (own.is_ours and own.measures[place].begins_line):
            yield _Begun(place, metre, sharps, None if tempo == first else tempo)


def _line(measures: Sequence[ReadMeasure], begun: _Begun, hairpins: Sequence[ReadHairpin], own: OwnMarks) -> Line:
    starts = [Fraction(0)]
    for measure in measures:
        starts.append(starts[-1] + measure.plan.length)

    def moment(place: tuple[int, Fraction]) -> Fraction:
        number = min(place[0] - begun.place, len(measures) - 1)
        return starts[number] + place[1]

    opening = replace(measures[0].plan, metre=begun.metre, sharps=None)
    plans = (opening, *(measure.plan for measure in measures[1:]))
    texts = own.measures[begun.place].texts if own.is_ours else {}
    times = 1
    if own.is_ours and ids.TIMES in own.measures[begun.place + len(measures) - 1].texts:
        plans, times = _without_repeat(plans)
    return Line(
        label=texts.get(ids.LABEL, ""),
        heading=texts.get(ids.HEADING),
        events=tuple(
            _as_we_write(measures, _events(measures))
            if own.is_ours
            else _with_counted_rests(_events(measures), measures)
        ),
        sharps=begun.sharps,
        chords=tuple(
            (start + at, chord)
            for start, measure in zip(starts, measures, strict=False)
            for at, chord in measure.chords
        ),
        measures=_plainly(plans, begun) if own.is_ours else plans,
        texts=tuple(
            replace(text, at=start + text.at)
            for start, measure in zip(starts, measures, strict=False)
            for text in measure.texts
        ),
        hairpins=tuple(Hairpin(moment(each.start), moment(each.end), each.grows) for each in hairpins),
        times=times,
    )


def _without_repeat(plans: tuple[Measure, ...]) -> tuple[tuple[Measure, ...], int]:
    """Return measures without the signs that repeat all of them, and how often they are played."""
    times = plans[-1].repeat_times
    closed = (*plans[:-1], replace(plans[-1], repeat_ends=False, repeat_times=2))
    return (replace(closed[0], repeat_starts=False), *closed[1:]), times


def _plainly(plans: tuple[Measure, ...], begun: _Begun) -> tuple[Measure, ...]:
    """Return what is not plain about the measures of a line of ours."""
    if not _are_plain(plans, begun.metre):
        return (replace(plans[0], tempo=plans[0].tempo or begun.tempo), *plans[1:])
    return () if begun.tempo is None else (Measure(bar_length(begun.metre), tempo=begun.tempo),)


def _are_plain(plans: Sequence[Measure], metre: Metre) -> bool:
    """Tell whether measures say nothing but their numbers."""
    bar = bar_length(metre)
    # Each line ends in a double bar by itself.
    said = [replace(plan, number="", double_bar=False) for plan in plans]
    return all(replace(plan, metre=None, tempo=None) == Measure(bar) for plan in said[:1]) and all(
        plan == Measure(bar) for plan in said[1:]
    )


def _events(measures: Sequence[ReadMeasure]) -> Iterator[tuple[int, Tone | Rest]]:
    """Yield tones and rests, each with the number of its measure in the line."""
    slurred = False
    before: ReadNote | None = None
    for place, measure in enumerate(measures):
        for note in measure.notes:
            if note.pitch is None:
                yield place, Rest(note.duration, _FERMATA in note.marks, None if note.whole else _value(note))
                continue
            begins = slurred and note.slur_starts and note.slur_stops
            slurred = note.slur_starts or (slurred and not note.slur_stops)
            yield place, _tone(note, before, slurred=slurred, slur_begins=begins)
            before = note


def _value(note: ReadNote) -> NoteValue:
    return NoteValue(note.value, note.dots, note.tuplet, note.beams)


def _tone(note: ReadNote, before: ReadNote | None, *, slurred: bool, slur_begins: bool) -> Tone:
    assert note.pitch is not None
    bent = 0
    if note.own.bent:
        above = before.pitch.number - note.pitch.number if before is not None and before.pitch is not None else 1
        bent = above if 1 <= above <= _WHOLE_STEP else 1
    return Tone(
        pitch=note.pitch,
        duration=note.duration,
        slurred=slurred,
        slur_begins=slur_begins,
        tied=note.tie in ("start", "continue"),
        fingering=note.own.fingering or None,
        partial_number=note.own.texts.get(ids.PARTIAL),
        remark=note.own.texts.get(ids.REMARK, ""),
        syllable=note.own.syllable,
        bent=bent,
        octave_bracket=note.own.octave_bracket,
        marks=tuple(Mark(mark) for mark in note.marks if mark in list(Mark)),
        fermata=_FERMATA in note.marks,
        breath=_BREATH in note.marks,
        slash=note.slash,
        grace=(Grace.SLASHED if note.slashed else Grace.PLAIN) if note.grace else None,
        lyrics=note.lyrics,
        written=_value(note),
    )


def _with_counted_rests(
    events: Iterator[tuple[int, Tone | Rest]], measures: Sequence[ReadMeasure]
) -> Iterator[Tone | Rest]:
    """Yield events with whole measures of rest that follow each other as one, unless something is said between."""
    waiting: Rest | None = None
    for place, event in events:
        whole = isinstance(event, Rest) and event.written is None and not event.fermata
        if whole and waiting is not None and _says_nothing(measures[place], measures[place - 1]):
            waiting = Rest(waiting.duration + event.duration)
            continue
        if waiting is not None:
            yield waiting
        waiting = event if whole and isinstance(event, Rest) else None
        if waiting is None:
            yield event
    if waiting is not None:
        yield waiting


def _as_we_write(measures: Sequence[ReadMeasure], events: Iterator[tuple[int, Tone | Rest]]) -> Iterator[Tone | Rest]:
    """Yield the events of a sheet of ours: what is written as several signs is one again, and writes itself."""
    notes = (note for measure in measures for note in measure.notes)
    joined: Tone | Rest | None = None
    before = ""
    for note, (_, event) in zip(notes, events, strict=True):
        continues = joined is not None and ids.continues(note.own.name, before)
        if continues and isinstance(joined, Tone) and isinstance(event, Tone) and joined.pitch == event.pitch:
            joined = replace(
                joined, duration=joined.duration + event.duration, slurred=event.slurred, tied=event.tied,
                breath=event.breath, fermata=event.fermata, written=None,
            )  # fmt: skip
        elif continues and isinstance(joined, Rest) and isinstance(event, Rest):
            joined = Rest(joined.duration + event.duration, event.fermata)
        else:
            if joined is not None:
                yield joined
            joined = event
        before = note.own.name
    if joined is not None:
        yield joined


def _says_nothing(measure: ReadMeasure, before: ReadMeasure) -> bool:
    """Tell whether nothing changes, ends or begins between two measures."""
    plan, last = measure.plan, before.plan
    opens = plan.metre or plan.sharps is not None or plan.tempo or plan.repeat_starts or plan.ending != last.ending
    closes = last.repeat_ends or last.double_bar or last.ending_stops
    return not (opens or closes or measure.chords or measure.texts or before.chords or before.texts)
