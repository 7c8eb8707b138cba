"""What fills a block, and what comes up when."""

import datetime
import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.practice.items import Item, said
from etudegen.practice.profile import Aim, Profile
from etudegen.practice.rotation import by_weight
from etudegen.practice.routine_lines import read_lines
from etudegen.practice.routines import Routine, read_routine, routine
from etudegen.practice.session import Session, card_points, make_session, reasons, today
from etudegen.practice.spacing import History, todays
from etudegen.study import Line, Study
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm

_TUNE = Path(__file__).parents[2] / "demo" / "harbour-band" / "quay-waltz.musicxml"
_DAY = datetime.date(2026, 11, 25)


@st.composite
def asked(draw: st.DrawFn) -> tuple[Profile, datetime.date, int, Aim]:
    """Draw what a session is made of: any range of more than an octave, tempi that fall with the note values."""
    low = draw(st.integers(54, 60))
    tempi = sorted(draw(st.lists(st.integers(44, 160), min_size=len(Rhythm), max_size=len(Rhythm))), reverse=True)
    profile = Profile(
        label="x",
        low=WrittenPitch.from_number(low),
        high=WrittenPitch.from_number(draw(st.integers(low + 14, 84))),
        tempo=dict(zip(Rhythm, tempi, strict=True)),
        days_since_played=draw(st.sampled_from([1, 13, 14, 60])),
    )
    day = _DAY + datetime.timedelta(days=draw(st.integers(0, 400)))
    return profile, day, draw(st.integers(15, 180)), draw(st.sampled_from(Aim))


_some = settings(max_examples=8)


def _studies(session: Session) -> list[tuple[str, Study]]:
    return [(filled.block.kind, study) for filled in session.filled.values() for study in filled.studies]


@_some
@given(asked())
def test_studies_fill_their_block_to_within_five_per_cent(wanted) -> None:
    session = make_session(*wanted)
    for filled in session.filled.values():
        seconds = sum(study.playing_seconds + study.resting_seconds for study in filled.studies)
        assert abs(seconds / (60 * filled.block.minutes) - 1) <= Fraction(1, 20)
        for study in filled.studies:
            for line in study.lines:
                assert line.duration % 4 == 0
                assert all(
                    filled.block.low.number <= tone.pitch.number <= filled.block.high.number for tone in line.tones
                )


def _rhythm(line: Line) -> Rhythm:
    """The rhythm of a line's shortest notes."""
    shortest = min((tone.duration for tone in line.tones), default=Fraction(1))
    by_length = {Fraction(1, 2): Rhythm.EIGHTHS, Fraction(1, 3): Rhythm.TRIPLETS, Fraction(1, 4): Rhythm.SIXTEENTHS}
    return by_length.get(shortest, Rhythm.QUARTERS)


@_some
@given(asked())
def test_no_study_is_faster_than_the_player_plays_its_rhythm_clean(wanted) -> None:
    """After two weeks off a tenth slower; warm-up and warm-down at 60 at most. Common practice, no source."""
    session = make_session(*wanted)
    share = Fraction(9, 10) if session.profile.days_since_played >= 14 else 1
    for filled in session.filled.values():
        easy = filled.block.part in ("warm-up", "warm-down")
        for study in filled.studies:
            for line in study.lines:
                tempo = (line.measures[0].tempo if line.measures else None) or study.tempo
                assert tempo <= filled.block.tempo
                assert not easy or tempo <= 60
                assert tempo <= session.profile.tempo[_rhythm(line)] * share


def test_a_teachers_outline_may_ask_for_a_slower_tempo_but_not_for_a_faster_one(tmp_path) -> None:
    file = tmp_path / "mine.toml"
    for asked, expected in ((300, 60), (50, 50)):
        file.write_text(
            'about = "x"\nminutes = [10, 20]\naims = ["any"]\n[[block]]\npart = "warm-up"\nkind = "bends"\n'
            f'share = 10\nwhy = "y"\nsettings = {{ tempo = {asked} }}',
            encoding="utf-8",
        )
        made = make_session(Profile(label="x"), _DAY, 10, routine=read_routine(file))
        assert 0.85 * expected <= max(study.tempo for _, study in _studies(made)) <= expected


@_some
@given(asked())
def test_a_subtitle_names_the_lowest_and_the_highest_note_of_its_page(wanted) -> None:
    session = make_session(*wanted)
    for kind, study in _studies(session):
        named = re.search("([A-G][♯♭]?[0-9]) to ([A-G][♯♭]?[0-9])", study.subtitle)
        if kind in ("patterns", "arpeggios", "pedals"):
            # They name the player's range, or how far down they go.
            continue
        heights = [tone.pitch.number for line in study.lines for tone in line.tones]
        assert named is not None
        assert [WrittenPitch.parse(name).number for name in named.groups()] == [min(heights), max(heights)]


def _played(study: Study) -> tuple[tuple[int, Fraction], ...]:
    return tuple((tone.pitch.number, tone.duration) for line in study.lines for tone in line.tones)


@_some
@given(asked())
def test_no_page_of_a_block_comes_again_unsaid(wanted) -> None:
    session = make_session(*wanted)
    before: list[Study] = []
    for filled in session.filled.values():
        before = before if filled.block.continued else []
        for study in filled.studies:
            again = _played(study) in map(_played, before)
            assert not again or study.title.endswith(", once more")
            before.append(study)


@_some
@given(st.sampled_from(Aim), st.integers(30, 180), st.integers(0, 400), st.integers(70, 84))
def test_nobody_turns_a_page_for_a_few_seconds(aim, minutes, later, high) -> None:
    profile = Profile(label="x", high=WrittenPitch.from_number(high))
    for _, study in _studies(make_session(profile, _DAY + datetime.timedelta(days=later), minutes, aim)):
        assert study.playing_seconds >= (20 if len(study.lines) >= 3 else 30)


def test_a_block_goes_on_after_a_rest_where_it_stopped() -> None:
    returning = Profile(label="x", low=WrittenPitch.parse("A3"), high=WrittenPitch.parse("D5"), days_since_played=31)
    made = make_session(returning, _DAY, 45, routine=routine("return-after-weeks-off"))
    pieces = [filled for filled in made.filled.values() if filled.block.kind == "bends"]
    assert [piece.block.continued for piece in pieces] == [False, True]
    one, other = ({_played(study)[0] for study in piece.studies} for piece in pieces)
    starts = [
        [next(line.tones).pitch.number for study in piece.studies for line in study.lines if list(line.tones)]
        for piece in pieces
    ]
    assert not set(starts[0]) & set(starts[1])
    assert not one & other


def test_a_card_that_goes_on_says_what_to_do_next_in_fewer_words() -> None:
    made = make_session(Profile(label="x", high=WrittenPitch.parse("C6")), _DAY, 180, routine=routine("three-hours"))
    cards = [(place, block) for place, block in enumerate(made.plan.blocks) if block.kind == "repertoire"]
    told = {place: " ".join(card_points(made, place)) for place, _ in cards}
    assert [block.continued for _, block in cards] == [False, True, False, True]
    first, on, _, _ = told.values()
    assert len(on) < len(first) * 2 / 3
    titles = [made.etudes[place].title for place, block in cards if not block.continued]
    assert len(titles) == len({today(made, place) for place, block in cards if not block.continued}) == 2
    assert reasons(made.plan).count("") == sum(block.part == "rest" for block in made.plan.blocks) - 1


def test_who_has_no_tune_has_an_etude_for_their_level_that_is_new_every_day() -> None:
    heard = set()
    for player in (
        Profile(label="x", low=WrittenPitch.parse("C4"), high=WrittenPitch.parse("G4"), level="first-months"),
        Profile(label="x", high=WrittenPitch.parse("A5"), level="intermediate"),
    ):
        for later in range(12):
            made = make_session(player, _DAY + datetime.timedelta(days=later), 30, Aim.TECHNIQUE)
            for etude in made.etudes.values():
                assert etude.bars * etude.bar * 60 / etude.tempo <= 30 * 60
                notes = [tone for line in etude.lines for tone in line.tones]
                assert all(player.low.number <= tone.pitch.number <= player.high.number for tone in notes)
                if player.level == "first-months":
                    assert all(abs(line.sharps) <= 2 for line in etude.lines)
                    assert min(tone.duration for tone in notes) >= 1
                    assert etude.bars <= 16
                heard.add(tuple((tone.pitch, tone.duration) for tone in notes))
    assert len(heard) >= 20


def test_what_is_read_at_sight_is_a_page_of_short_pieces_also_for_who_has_tunes() -> None:
    asked = Routine("x", "", None, read_lines(["long-tones 5", "repertoire 10 sight-reading"], Path))
    made = make_session(Profile(label="x", tunes=(_TUNE,)), _DAY, 15, routine=asked)
    (page,) = made.etudes.values()
    assert len(page.lines) >= 3
    assert page.title == "Sight reading"
    assert not made.tunes


def test_a_block_of_reading_at_sight_is_one_sheet_that_is_played_once() -> None:
    asked = Routine("x", "", None, read_lines(["long-tones 5", "etudes 8 sight-reading march", "pedals 5"], Path))
    pages = []
    for later in range(3):
        made = make_session(Profile(label="x"), _DAY + datetime.timedelta(days=later), 18, routine=asked)
        ((sheet,),) = [filled.studies for filled in made.filled.values() if filled.block.kind == "etudes"]
        assert sheet.title == "Sight reading"
        assert all(line.times == 1 for line in sheet.lines)
        assert len(sheet.lines) >= 4
        pages.append([[tone.pitch for tone in line.tones] for line in sheet.lines])
    assert pages[0] != pages[1] != pages[2]


def test_keys_are_named_as_they_read_best() -> None:
    """No natural minor or mixolydian key needs more than six sharps or flats: common practice, no source."""
    seen = set()
    for later in range(7):
        made = make_session(Profile(label="x"), _DAY + datetime.timedelta(days=later), 60, Aim.TECHNIQUE)
        for kind, study in _studies(made):
            if kind == "scales" and study.title.split()[0] in ("Natural", "Mixolydian", "Dorian", "Major"):
                seen.add(study.title)
                assert all(abs(line.sharps) <= 6 for line in study.lines)
    assert len(seen) == 4


@given(st.dictionaries(st.sampled_from(Aim), st.integers(0, 10), min_size=1), st.integers(0, 10_000))
def test_in_as_many_days_as_the_weights_add_up_to_each_aim_has_as_many_as_it_weighs(weights, row) -> None:
    total = sum(weights.values())
    if not total:
        assert by_weight(weights, row) is None
        return
    days = [by_weight(weights, row * total + day) for day in range(total)]
    assert {aim: days.count(aim) for aim in weights} == weights


def test_aims_have_their_share_on_working_days_too() -> None:
    weights = {"range": 3, "endurance": 2, "sound": 2}
    monday = datetime.date(2026, 11, 23).toordinal()
    days = [by_weight(weights, monday + 7 * week + day) for week in range(52) for day in range(5)]
    for aim, weight in weights.items():
        assert days.count(aim) / len(days) == pytest.approx(weight / 7, rel=0.15)


def test_the_aim_of_a_day_makes_its_session() -> None:
    profile = Profile(label="x", aims={Aim.JAZZ: 3, Aim.FLEXIBILITY: 1})
    begins = _DAY.toordinal() // 4 * 4
    aims = [make_session(profile, datetime.date.fromordinal(begins + day), 45).plan.aim for day in range(8)]
    assert sorted(aims) == ["flexibility"] * 2 + ["jazz"] * 6


def test_items_are_said_as_a_player_says_them() -> None:
    scales = [
        Item("scales", "harmonic-minor", "Bb"),
        Item("scales", "harmonic-minor", "F#"),
        Item("scales", "major", "C"),
    ]
    assert said(scales) == "harmonic minor in B♭ F♯, major in C"
    assert said([Item("slurs", "ramp", "12")]) == "from easy to demanding in position 12"
    assert said([Item("slurs", "sweep", "0"), Item("slurs", "sweep", "23")]) == "sweep in positions 0 23"
    assert said([Item("patterns", "1 2 b3", "Ab")]) == "1 2 b3 in A♭"
    assert said([Item("pedals", "octave")]) == "octave"
    assert said([Item("long-tones")]) == ""
    assert said([Item("repertoire")]) == ""


@given(st.lists(st.text(min_size=1), min_size=1, max_size=12, unique=True), st.integers(0, 10_000))
def test_over_as_many_days_as_the_pool_has_members_each_comes_first_once(pool, day) -> None:
    assert sorted(todays(pool, len(pool), History(), day + later)[0] for later in range(len(pool))) == sorted(pool)
    assert sorted(todays(pool, len(pool), History(), day)) == sorted(pool)


def test_in_twelve_days_every_key_comes_first_once() -> None:
    firsts = set()
    for later in range(12):
        player = Profile(label="x", level="professional")
        made = make_session(player, _DAY + datetime.timedelta(days=later), 30, Aim.TECHNIQUE)
        scales = next(filled for filled in made.filled.values() if filled.block.kind == "scales")
        firsts.add(scales.items[0].unit)
    assert len(firsts) == 12


def test_music_that_is_played_through_goes_on_as_that() -> None:
    for aim, begins in ((Aim.ENDURANCE, "Play through"), (Aim.ORCHESTRAL, "Choose short passages")):
        made = make_session(Profile(label="x", level="professional"), _DAY, 150, aim)
        cards = [(place, block) for place, block in enumerate(made.plan.blocks) if block.kind == "repertoire"]
        first, *later = [" ".join(card_points(made, place)) for place, block in cards]
        assert first.startswith(begins)
        assert later
        assert not any("The same piece" in points for points in later)
