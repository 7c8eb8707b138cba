"""Count-in, clicks, call and response, drones and band, as notes in time."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.sound.arrangement import Arrangement, Voice
from etudegen.sound.arranging import arrange
from etudegen.sound.backing import Backing
from etudegen.sound.performance import Performance, SoundingNote
from etudegen.sound.performance import SoundingChord as Chord
from etudegen.theory.swing import SWUNG, Feel, cymbal_ratio, soloist_ratio, swung
from tests.sound.music import performance

# General MIDI System Level 1 specification (MIDI Manufacturers Association), percussion key map: high and low wood
# block, ride cymbal 1, closed hi-hat.
HIGH_BLOCK, LOW_BLOCK, RIDE, CLOSED_HI_HAT = 76, 77, 51, 42
# The sound set of the same specification, counted from zero: trumpet, acoustic bass, acoustic grand piano.
TRUMPET, BASS, PIANO = 56, 32, 0
FOUR_BARS = performance([(beat, 1, 60 + beat % 5) for beat in range(16)], 16)
# Two-five-one in B-flat at concert pitch, two bars of the last chord.
CHANGES = (
    Chord(Fraction(0), Fraction(4), 0, (0, 3, 7, 10), 0),
    Chord(Fraction(4), Fraction(4), 5, (5, 9, 0, 3), 5),
    Chord(Fraction(8), Fraction(8), 10, (10, 2, 5, 9), 10),
)
WITH_CHANGES = replace(FOUR_BARS, chords=CHANGES, lines=((Fraction(0), Fraction(16)),))


def voice(made: Arrangement, name: str) -> Voice:
    return next(found for found in made.voices if found.name == name)


def starts(notes: tuple[SoundingNote, ...]) -> list[Fraction]:
    return [note.start for note in notes]


@pytest.mark.parametrize("bars", range(5))
@pytest.mark.parametrize(("metre", "bar", "beats"), [((4, 4), 4, 4), ((3, 4), 3, 3), ((6, 8), 3, 2), ((2, 2), 4, 2)])
def test_count_in_is_whole_bars_of_wood_block(bars: int, metre: tuple[int, int], bar: int, beats: int) -> None:
    made = arrange(performance([(0, 1, 60)], bar, metre=metre), Backing(click=False, count_in=bars))
    assert starts(voice(made, "Trumpet in B♭").notes) == [bars * bar]
    assert made.duration == (bars + 1) * bar
    if not bars:
        assert [found.name for found in made.voices] == ["Trumpet in B♭"]
        return
    clicks = voice(made, "Click")
    assert (clicks.program, clicks.channel) == (None, 10)
    assert starts(clicks.notes) == [Fraction(bar, beats) * beat for beat in range(bars * beats)]
    # Common practice, no source: the first beat of a bar is told apart, 6/8 is counted in two.
    assert [note.key for note in clicks.notes] == ([HIGH_BLOCK] + [LOW_BLOCK] * (beats - 1)) * bars


def test_click_goes_on_to_the_end_where_it_is_asked_for() -> None:
    made = arrange(FOUR_BARS, Backing(count_in=2, click=True))
    assert starts(voice(made, "Click").notes) == list(range(24))


@pytest.mark.parametrize("scale", [Fraction(1, 4), Fraction(3, 5), Fraction(1), Fraction(5, 2)])
def test_tempo_is_scaled_exactly(scale: Fraction) -> None:
    made = arrange(FOUR_BARS, Backing(click=False), 120 * scale)
    assert made.tempo == 120 * scale
    # Five bars of four at 120 are ten seconds.
    assert made.seconds == 10 / scale


def test_changes_of_tempo_are_heard_where_they_are_written() -> None:
    changing = performance(
        [(0, 1, 60)],
        12,
        tempos=((Fraction(0), Fraction(60)), (Fraction(4), Fraction(120)), (Fraction(8), Fraction(30))),
    )
    made = arrange(changing, Backing(click=False, count_in=1))
    assert made.tempos == ((0, 60), (8, 120), (12, 30))
    assert made.seconds == 4 + 4 + 2 + 8
    lines = [(Fraction(0), Fraction(4)), (Fraction(4), Fraction(4)), (Fraction(8), Fraction(4))]
    answered = arrange(replace(changing, phrases=tuple(lines)), Backing(click=False, count_in=1, answer=True))
    assert answered.tempos == ((0, 60), (12, 120), (20, 30))
    assert answered.seconds == 4 + 2 * (4 + 2 + 8)


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(1, 3)), min_size=1, max_size=5), st.integers(0, 4))
def test_each_line_is_left_free_once(bars: list[tuple[int, int]], count_in: int) -> None:
    lines, written, heard = [], 0, 4 * count_in
    spans = []
    for rest, length in bars:
        written, heard = written + 4 * rest, heard + 4 * rest
        lines.append((Fraction(written), Fraction(4 * length)))
        spans.append((heard, heard + 4 * length))
        written, heard = written + 4 * length, heard + 8 * length
    notes = [(beat, 1, 60) for start, length in lines for beat in range(int(start), int(start + length))]
    played = performance(notes, written, phrases=tuple(lines))
    made = arrange(played, Backing(click=False, count_in=count_in, answer=True))
    assert made.duration == heard
    calls = [beat for first, last in spans for beat in range(first, last)]
    assert starts(voice(made, "Trumpet in B♭").notes) == calls
    answers = [beat + last - first for first, last in spans for beat in range(first, last)]
    assert starts(voice(made, "Click").notes) == [*range(4 * count_in), *answers]


def test_no_note_sounds_into_an_answer() -> None:
    made = arrange(
        performance([(3, 4, 60)], 8, phrases=((Fraction(0), Fraction(4)), (Fraction(4), Fraction(4)))),
        Backing(click=False, count_in=0, answer=True),
    )
    assert [(note.start, note.duration) for note in voice(made, "Trumpet in B♭").notes] == [(3, 1)]


def test_melody_can_be_left_out_and_the_channels_are_apart() -> None:
    made = arrange(WITH_CHANGES, Backing(melody=False, band=True, drone=True, click=True))
    assert [(found.name, found.program, found.channel) for found in made.voices] == [
        ("Bass", BASS, 2),
        ("Piano", PIANO, 3),
        ("Cymbal", None, 10),
        ("Drone", made.voices[3].program, 4),
        ("Click", None, 10),
    ]


@pytest.mark.parametrize("pitch_class", range(12))
def test_drone_lies_around_c3_with_a_breath_after_it(pitch_class: int) -> None:
    lines = ((Fraction(0), Fraction(8)), (Fraction(8), Fraction(8)))
    # It is on the note that each line ends on.
    played = performance([(0, 4, 71), (4, 4, 60 + pitch_class), (8, 6, 70), (14, 2, 65 + pitch_class)], 16, lines=lines)
    held = voice(arrange(played, Backing(click=False, drone=True)), "Drone").notes
    assert [note.key % 12 for note in held] == [pitch_class, (pitch_class + 5) % 12]
    # C3 is key 48 where middle C, 60, is C4; an octave around it reaches a tritone either way.
    assert all(48 - 6 <= note.key <= 48 + 6 for note in held)
    assert starts(held) == [4, 12]
    assert 0 < 12 - (held[0].start + held[0].duration) <= 1


def test_drone_follows_the_answer_too() -> None:
    lines = ((Fraction(0), Fraction(8)), (Fraction(8), Fraction(8)))
    played = performance([(0, 8, 60), (8, 8, 61)], 16, lines=lines, phrases=lines)
    made = arrange(played, Backing(click=False, count_in=0, drone=True, answer=True))
    assert [(note.start, note.key % 12) for note in voice(made, "Drone").notes] == [(0, 0), (8, 0), (16, 1), (24, 1)]


def trio(swing: bool, chords: tuple[Chord, ...] = CHANGES, tempo: int = 120) -> Arrangement:
    beats = int(chords[-1].start + chords[-1].duration)
    quarters = performance([(beat, 1, 60) for beat in range(beats)], beats, tempo=tempo, chords=chords)
    return arrange(quarters, Backing(click=False, count_in=0, band=True, swing=swing))


@st.composite
def changes(draw: st.DrawFn) -> tuple[Chord, ...]:
    made, start = [], Fraction(0)
    for _ in range(draw(st.integers(1, 8))):
        root = draw(st.integers(0, 11))
        # Intervals of common chords in half steps; common practice, no source.
        above = draw(st.sampled_from([(4, 7), (3, 7), (4, 7, 11), (3, 7, 10), (4, 7, 10), (3, 6, 10), (4, 7, 10, 2)]))
        tones = (root, *((root + step) % 12 for step in above))
        length = Fraction(draw(st.sampled_from([1, 2, 3, 4, 8])))
        made.append(Chord(start, length, root, tones, draw(st.sampled_from([root, tones[1]]))))
        start += length
    return tuple(made)


@given(changes())
def test_bass_walks_in_quarters_from_root_to_root(chords: tuple[Chord, ...]) -> None:
    bass = voice(trio(True, chords), "Bass").notes
    assert starts(bass) == list(range(int(chords[-1].start + chords[-1].duration)))
    # E1, the lowest string of a double bass, to G3.
    assert all(28 <= note.key <= 55 for note in bass)
    at = {note.start: note.key for note in bass}
    for chord, following in pairwise([*chords, None]):
        assert chord is not None
        assert at[chord.start] % 12 == chord.bass
        end = chord.start + chord.duration
        inner = range(int(chord.start) + 1, int(end) - (following is not None))
        assert all(at[Fraction(beat)] % 12 in chord.tones for beat in inner)
        if following is not None and chord.duration > 1:
            assert abs(at[end] - at[end - 1]) <= 2


@pytest.mark.parametrize("swing", [True, False])
def test_roots_of_the_bass_go_up_to_a2_and_no_higher(swing: bool) -> None:
    """So that there is room to walk up from them. Common practice, no source."""
    roots = set()
    for first in range(12):
        for second in range(12):
            chords = tuple(
                Chord(Fraction(4 * place), Fraction(4), root, (root, (root + 4) % 12, (root + 7) % 12), root)
                for place, root in enumerate((first, second))
            )
            bass = voice(trio(swing, chords), "Bass").notes
            roots |= {note.key for note in bass if note.start % 4 == 0}
    # A2 is the key 45 (MIDI 1.0: middle C is 60).
    assert max(roots) == 45


@given(changes())
def test_straight_bass_plays_half_notes_on_chord_tones(chords: tuple[Chord, ...]) -> None:
    bass = voice(trio(False, chords), "Bass").notes
    for chord in chords:
        mine = [note for note in bass if chord.start <= note.start < chord.start + chord.duration]
        assert starts(tuple(mine)) == [chord.start + 2 * half for half in range(-(-int(chord.duration) // 2))]
        assert mine[0].key % 12 == chord.bass
        assert all(note.key % 12 in (*chord.tones, chord.bass) and 28 <= note.key <= 55 for note in mine)


@given(changes(), st.booleans())
def test_piano_has_close_chords_around_middle_c(chords: tuple[Chord, ...], swing: bool) -> None:
    made = trio(swing, chords)
    ratio = cymbal_ratio(120) if swing else Fraction(1)
    last: list[int] | None = None
    for chord in chords:
        span = swung(chord.start, ratio), swung(chord.start + chord.duration, ratio)
        mine = [note for note in voice(made, "Piano").notes if span[0] <= note.start < span[1]]
        assert mine, "every chord is played"
        keys = sorted({note.key for note in mine})
        assert len(keys) == min(4, len(chord.tones))
        assert {key % 12 for key in keys} <= set(chord.tones)
        assert keys[-1] - keys[0] < 12
        assert keys[0] >= 48
        assert keys[-1] <= 77
        if last is not None and len(last) == len(keys):
            # Smooth: no voice of a chord moves farther than a fifth.
            assert all(abs(here - there) <= 7 for here, there in zip(keys, last, strict=True))
        last = keys


@pytest.mark.parametrize("tempo", [60, 90, 120, 160, 200, 240, 300])
def test_ride_swings_as_the_table_says(tempo: int) -> None:
    ride = voice(trio(True, tempo=tempo), "Cymbal").notes
    assert {note.key for note in ride} == {RIDE}
    ratio = cymbal_ratio(tempo)
    first_bar = [note.start for note in ride if note.start < 4]
    off = ratio / (1 + ratio)
    # Common practice, no source: one, two and, three, four and.
    assert first_bar == [0, 1, 1 + off, 2, 3, 3 + off]
    # A. Friberg and A. Sundstrom, Music Perception 19(3), 2002: the short note lasts about 100 ms from medium to fast
    # tempi, and the ratio is at most 3.5 at slow and 1 at the fastest ones.
    short = (1 - off) * 60_000 / tempo
    assert 1 <= ratio <= Fraction(7, 2)
    if 140 <= tempo <= 300:
        assert short == pytest.approx(100, abs=1)


def test_straight_time_is_even_eighths_on_the_hi_hat() -> None:
    hats = voice(trio(False), "Cymbal").notes
    assert {note.key for note in hats} == {CLOSED_HI_HAT}
    assert starts(hats) == [Fraction(eighth, 2) for eighth in range(32)]


def test_accompaniment_is_the_same_every_time_and_moderate() -> None:
    assert trio(True) == trio(True)
    assert all(note.velocity <= 100 for found in trio(True).voices[1:] for note in found.notes)


EIGHTHS = [(Fraction(eighth, 2), Fraction(1, 2), 60) for eighth in range(8)]


def off_beat(played: Performance, swing: bool | None = None, tempo: int | None = None) -> Fraction:
    return arrange(played, Backing(click=False, count_in=0, swing=swing), tempo).voices[0].notes[1].start


def test_swing_is_kept_added_taken_away_and_fits_the_tempo_played_at() -> None:
    straight = performance(EIGHTHS, 4, tempo=200)
    swinging = performance(EIGHTHS, 4, tempo=200, feel=SWUNG)

    def late(tempo: int) -> Fraction:
        return swung(Fraction(1, 2), soloist_ratio(tempo))

    assert off_beat(straight) == Fraction(1, 2)
    assert off_beat(straight, swing=True) == late(200)
    assert off_beat(swinging) == late(200)
    assert off_beat(swinging, swing=False) == Fraction(1, 2)
    assert off_beat(swinging, tempo=100) == late(100) > late(200)


def test_a_ratio_that_the_sheet_gives_is_the_soloists_at_every_tempo_and_not_the_cymbals() -> None:
    played = performance(EIGHTHS, 4, tempo=200, feel=Feel(swung=True, ratio=Fraction(2)), chords=CHANGES[:1])
    for swing in (None, True):
        for tempo in (100, 200, 300):
            made = arrange(played, Backing(click=False, count_in=0, swing=swing), tempo)
            assert made.voices[0].notes[1].start == Fraction(2, 3)
            off = voice(made, "Cymbal").notes[2].start - 1
            assert off == swung(Fraction(1, 2), cymbal_ratio(tempo))


def test_only_off_beats_of_eighths_come_late() -> None:
    triplets = performance([(Fraction(third, 3), Fraction(1, 3), 60) for third in range(12)], 4, tempo=200, feel=SWUNG)
    for tempo in (60, 100, 200, 300):
        made = arrange(triplets, Backing(click=False, count_in=0), tempo)
        assert starts(made.voices[0].notes) == [Fraction(third, 3) for third in range(12)]


@pytest.mark.parametrize("metre", [(6, 8), (9, 8), (12, 8), (7, 8)])
def test_metres_in_eighths_are_never_swung(metre: tuple[int, int]) -> None:
    bar = Fraction(4 * metre[0], metre[1])
    chord = Chord(Fraction(0), bar, 0, (0, 4, 7), 0)
    eighths = [(Fraction(eighth, 2), Fraction(1, 2), 60) for eighth in range(metre[0])]
    played = performance(eighths, bar, metre=metre, off_beats=(), chords=(chord,))
    assert arrange(played, Backing(swing=True)) == arrange(played, Backing(swing=False))


def test_each_beat_swings_as_much_as_its_own_tempo_asks() -> None:
    tempos = ((Fraction(0), Fraction(100)), (Fraction(2), Fraction(300)))
    played = performance(EIGHTHS, 4, tempos=tempos, feel=SWUNG)
    heard = starts(arrange(played, Backing(click=False, count_in=0)).voices[0].notes)
    slow = swung(Fraction(1, 2), soloist_ratio(100))
    assert heard == [0, slow, 1, 1 + slow, 2, Fraction(5, 2), 3, Fraction(7, 2)]


def test_under_a_fermata_time_goes_half_as_fast_for_everybody() -> None:
    """Common practice, no source: a note under a fermata lasts about twice as long."""
    played = performance([(0, 2, 60), (2, 2, 62)], 4, tempo=120, fermatas=((Fraction(2), Fraction(2)),))
    made = arrange(played, Backing(count_in=1), 60)
    assert made.tempos == ((0, 60), (6, 30))
    assert made.seconds == 4 + 2 + 4
    # The count-in before one has the tempo of the sheet.
    first = replace(played, fermatas=((Fraction(0), Fraction(2)),))
    assert arrange(first, Backing(count_in=1)).tempos == ((0, 120), (4, 60), (6, 120))
    assert arrange(first, Backing(count_in=0)).tempos == ((0, 60), (2, 120))


def test_what_is_not_said_is_left_to_the_music() -> None:
    lines = ((Fraction(0), Fraction(16)),)
    without, with_changes = replace(FOUR_BARS, lines=lines), replace(WITH_CHANGES, lines=lines)

    def names(played: Performance, backing: Backing) -> set[str]:
        return {found.name for found in arrange(played, backing).voices} - {"Trumpet in B♭"}

    assert names(without, Backing(drone=None, count_in=0)) == {"Click", "Drone"}
    assert names(with_changes, Backing(drone=None, count_in=0)) == {"Bass", "Piano", "Cymbal"}
    assert names(with_changes, Backing(band=False, count_in=0)) == {"Click"}
    assert names(replace(with_changes, notes=()), Backing(count_in=0)) == {"Bass", "Piano", "Cymbal"}


@pytest.mark.parametrize("swing", [True, False])
def test_roots_of_the_bass_lie_between_e1_and_a2(swing: bool) -> None:
    """Common practice, no source: E1 (key 28) is its lowest string, and above A2 (45) a line had no room to rise."""
    # A2, then not the B flat beside it but the one below; the low E, and not the E flat beside it but the one above.
    roots, keys = (9, 10, 4, 3), [45, 34, 28, 39]
    chords = tuple(Chord(Fraction(4 * bar), Fraction(4), root, (root,), root) for bar, root in enumerate(roots))
    at = {note.start: note.key for note in voice(trio(swing, chords), "Bass").notes}
    assert [at[Fraction(4 * bar)] for bar in range(4)] == keys


@pytest.mark.parametrize(
    ("make", "what"),
    [
        (lambda: Backing(click=False, count_in=5), "count-in 5 is"),
        (lambda: Backing(click=False, count_in=-1), "count-in -1 is"),
        (lambda: Backing(count_in=True), "count-in True"),
        (lambda: Backing(answer=True, melody=False), "call and response needs the melody"),
        (lambda: Feel(swung=True, ratio=Fraction(5)), "swing ratio 5: allowed are 1 to 4"),
        (lambda: Feel(swung=True, ratio=Fraction(1, 2)), r"swing ratio 0\.5"),
        (lambda: Feel(ratio=Fraction(2)), "none where eighths are even"),
        (
            lambda: arrange(FOUR_BARS, Backing(), 29),
            "tempo 29 is out of reach for a sheet at 120: allowed are 30 to 300",
        ),
        (lambda: arrange(FOUR_BARS, Backing(), 301), "tempo 301"),
        (lambda: arrange(performance(EIGHTHS, 4, tempo=60), Backing(), 241), "allowed are 20 to 240"),
        (lambda: Chord(Fraction(0), Fraction(0), 0, (0,), 0), "lasts 0"),
        (lambda: Chord(Fraction(0), Fraction(1), 12, (0,), 0), "pitch class 12"),
        (lambda: Chord(Fraction(0), Fraction(1), 0, (), 0), "no tones"),
        (lambda: arrange(FOUR_BARS, Backing(click=False, answer=True)), "no lines"),
        (lambda: arrange(performance([], 4), Backing(drone=True)), "no notes for it"),
        (lambda: arrange(FOUR_BARS, Backing(click=False, band=True)), "no chord changes"),
        (lambda: arrange(FOUR_BARS, Backing(click=False, melody=False, count_in=0)), "nothing would sound"),
        (
            lambda: arrange(replace(FOUR_BARS, phrases=((Fraction(0), Fraction(20)),)), Backing(answer=True)),
            "phrase at 0",
        ),
        (lambda: arrange(replace(FOUR_BARS, chords=(*CHANGES, CHANGES[0])), Backing()), "chord at 0"),
    ],
)
def test_what_cannot_be_is_told_in_one_sentence(make: object, what: str) -> None:
    with pytest.raises(InputError, match=what) as raised:
        make()
    assert "\n" not in str(raised.value)
