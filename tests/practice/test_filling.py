"""What a block is made of: few sheets, within what the player knows, and what went badly sooner and slower."""

import datetime
import io
import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from etudegen.engraving.engraver import Engraver
from etudegen.exercises.scales import ScaleParameters
from etudegen.exercises.slurs import SlurParameters
from etudegen.instrument.partials import series
from etudegen.instrument.valves import POSITIONS
from etudegen.notation.marks import PhraseLayout
from etudegen.notation.score import write_score
from etudegen.practice.entries import Entry, KeptBlock
from etudegen.practice.filling import Filled, fill
from etudegen.practice.items import Item
from etudegen.practice.journal import Journal
from etudegen.practice.levels import levels
from etudegen.practice.plan import Block
from etudegen.practice.pools import Today
from etudegen.practice.profile import Aim, Profile
from etudegen.practice.rules import Part
from etudegen.practice.session import Session, make_session
from etudegen.practice.spacing import History, State, round_of
from etudegen.sheets.session import book_files
from etudegen.study import Line, Measure, Rest, Study
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.tempo import METRONOME, steps

_DAY = datetime.date(2026, 11, 25)
_note = WrittenPitch.parse
# What a player of a level may have for a range; common practice, no source.
_RANGES = {
    "first-months": ("C4", "G4"), "elementary": ("A3", "E5"), "intermediate": ("F#3", "A5"), "advanced": ("F#3", "C6"),
    "professional": ("F#3", "F6"),
}  # fmt: skip


def _player(level: str, **more: object) -> Profile:
    low, high = map(_note, _RANGES[level])
    return Profile(label="x", **{"level": level, "low": low, "high": high, **more})  # type: ignore[arg-type]


@st.composite
def _sessions(draw: st.DrawFn) -> Session:
    player = _player(draw(st.sampled_from(list(_RANGES))))
    later = datetime.timedelta(days=draw(st.integers(0, 400)))
    return make_session(
        player, _DAY + later, draw(st.sampled_from([10, 15, 30, 45, 60, 150])), draw(st.sampled_from(Aim))
    )


_some = settings(max_examples=8)


def _by_block(session: Session) -> list[list[Filled]]:
    """The pieces of each block together."""
    blocks: list[list[Filled]] = []
    for filled in session.filled.values():
        if filled.block.continued:
            blocks[-1].append(filled)
        else:
            blocks.append([filled])
    return blocks


def _tempo(study: Study, line: Line) -> int:
    own = line.measures[0].tempo if line.measures else None
    return own or study.tempo


@_some
@given(_sessions())
def test_a_block_has_three_sheets_at_most_and_lines_come_again_before_sheets_do(session) -> None:
    for pieces in _by_block(session):
        studies = [study for piece in pieces for study in piece.studies]
        assert len(studies) <= max(3, len(pieces))
        assert all(1 <= line.times <= 4 for study in studies for line in study.lines)
        again = [study for study in studies if study.title.endswith("once more")]
        assert len(again) < len(pieces)


@_some
@given(_sessions())
def test_nothing_goes_beyond_what_the_level_knows(session) -> None:
    known = next(each for each in levels() if each.name == session.profile.level)
    shortest = min(rhythm.note for rhythm in known.rhythms)
    for filled in session.filled.values():
        assert filled.block.kind in known.kinds
        for study in filled.studies:
            for line in study.lines:
                assert abs(line.sharps) <= known.signature
                tones = list(line.tones)
                if not tones:
                    # Rest with the instrument down.
                    continue
                assert all(tone.duration <= known.counts for tone in tones if filled.block.kind == "long-tones")
                # A run broadens into its last beat; nothing is shorter than what is known.
                assert min(tone.duration for tone in tones) >= shortest
                if filled.block.kind == "slurs":
                    values = {rhythm.note: rhythm for rhythm in Rhythm}
                    rhythm = values[min(tone.duration for tone in tones)]
                    for tone, following in pairwise(tones):
                        if tone.slurred:
                            assert abs(tone.pitch.number - following.pitch.number) <= known.leap[rhythm]


@_some
@given(_sessions())
def test_tempi_are_marks_of_a_metronome_and_rests_after_equal_lines_are_equal(session) -> None:
    for filled in session.filled.values():
        for study in filled.studies:
            if study.contact_seconds is not None:
                continue
            rests: dict[object, set[Fraction]] = {}
            for line in study.lines:
                assert _tempo(study, line) in METRONOME
                played = tuple((tone.duration, tone.slurred) for tone in line.tones)
                # The clock is made to fit by the last rest.
                if line is not filled.studies[-1].lines[-1]:
                    rests.setdefault(played, set()).add(sum(e.duration for e in line.events if isinstance(e, Rest)))
            assert all(len(each) == 1 for each in rests.values())


@pytest.mark.parametrize("level", ["elementary", "intermediate", "advanced", "professional"])
@pytest.mark.parametrize("wanted", [{"ramp": True}, {}], ids=["ramp", "shape"])
def test_slurs_use_every_position_that_has_two_partials_in_the_range(level: str, wanted: dict[str, object]) -> None:
    player = _player(level)
    block = Block(
        Part.CONDITIONING, "slurs", 6, False, player.low, player.high, 66, "", SlurParameters.checked_values(wanted)
    )
    (made,) = fill([block], player, Today(0, History()))
    # 7, 11, 13 and 14 are left out: tests/reference/harmonic_series_cents.csv.
    expected = {
        str(valves)
        for valves in POSITIONS
        if sum(
            player.low.number <= each.written.number <= player.high.number and each.partial not in (7, 11, 13, 14)
            for each in series(valves)[1:]
        )
        >= 2
    }
    assert {line.label for line in made.studies[0].lines} == expected


def test_a_narrow_range_gives_its_minutes_to_other_blocks_and_the_plan_says_so() -> None:
    player = replace(_player("first-months"), kinds=("long-tones", "slurs", "scales", "repertoire", "improvising"))
    told = [make_session(player, _DAY, minutes, aim) for minutes in (30, 40) for aim in Aim]
    for session in told:
        assert sum(block.minutes for block in session.plan.blocks) == session.plan.minutes
        lacking = [filled for filled in session.filled.values() if filled.lacks]
        said = [remark for remark in session.plan.remarks if "within this range there is music for" in remark]
        assert not lacking or said
        assert all(filled.lacks <= 180 for filled in lacking)


def test_a_first_months_player_has_ten_minutes_of_easy_things_and_a_tune(tmp_path) -> None:
    """One or two sheets, half and quarter notes, easy keys, a tune, no bends: common practice, no source."""
    session = make_session(_player("first-months"), _DAY, 10)
    assert {block.kind for block in session.plan.blocks} <= {"long-tones", "slurs", "scales", "repertoire"}
    assert "repertoire" in {block.kind for block in session.plan.blocks}
    studies = [study for filled in session.filled.values() for study in filled.studies]
    assert len(studies) <= 2
    assert all(tone.duration >= 1 for study in studies for line in study.lines for tone in line.tones)


def _first_lines(session: Session, part: Part) -> tuple[object, ...]:
    return tuple(
        (tone.pitch.number, tone.duration)
        for filled in session.filled.values()
        if filled.block.part is part
        for study in filled.studies
        for line in study.lines
        for tone in line.tones
    )


@pytest.mark.parametrize(
    ("aim", "part"),
    [
        (Aim.RANGE, Part.WARM_UP),
        (Aim.SOUND, Part.WARM_UP),
        (Aim.FLEXIBILITY, Part.WARM_UP),
        (Aim.ENDURANCE, Part.WARM_UP),
        (Aim.TECHNIQUE, Part.WARM_DOWN),
        (Aim.ENDURANCE, Part.WARM_DOWN),
    ],
)
def test_from_day_to_day_the_warm_up_the_bends_and_the_warm_down_turn(aim: Aim, part: Part) -> None:
    days = [make_session(_player("advanced"), _DAY + datetime.timedelta(days=later), 60, aim) for later in range(4)]
    assert len({_first_lines(day, part) for day in days}) >= 2
    assert _first_lines(days[0], part) != _first_lines(days[1], part)


# What went badly -------------------------------------------------------------------------------------------------


def _scales(player: Profile, minutes: int = 6) -> Block:
    return Block(
        Part.TECHNIQUE, "scales", minutes, False, player.low, player.high, player.clean_tempo(Rhythm.EIGHTHS), ""
    )


def test_what_went_badly_is_played_slower_and_what_goes_easily_faster() -> None:
    player = _player("professional")
    (made,) = fill([_scales(player, 12)], player, Today(0, History()))
    weak, weaker, easy, other = made.items[:4]
    states = {weak: State(2, step=-1), weaker: State(1, step=-4), easy: State(4, easy=2, step=1)}
    history = History(5, dict.fromkeys(made.items, 1), states)
    (now,) = fill([_scales(player, 12)], player, Today(0, history))
    major = next(study for study in now.studies if study.title == "Major scales")
    lines = {line.label.replace("♭", "b").replace("♯", "#"): line for line in major.lines}
    tempi = {key: _tempo(major, line) for key, line in lines.items()}
    usual = major.tempo
    assert usual in METRONOME
    assert tempi[weak.unit] == steps(usual, -1)
    assert tempi[weaker.unit] == steps(usual, -4)
    assert tempi[easy.unit] == steps(usual, 1)
    assert tempi[other.unit] == usual
    # As slow as it gets and still weak: an octave instead of the whole range.
    spans = {key: [tone.pitch.number for tone in line.tones] for key, line in lines.items()}
    assert max(spans[weaker.unit]) - min(spans[weaker.unit]) == 12
    assert max(spans[weak.unit]) - min(spans[weak.unit]) > 24


@pytest.mark.parametrize(
    ("rating", "reached", "wanted"),
    [(1, 60, 56), (2, 60, 58), (3, 60, 60), (4, 60, 63), (3, 300, 138), (4, 132, 138)],
)
def test_the_tempo_that_was_reached_is_where_the_next_one_starts(rating: int, reached: int, wanted: int) -> None:
    player = _player("professional")
    block = replace(_scales(player, 12), settings={"scale": "major"})
    (made,) = fill([block], player, Today(0, History()))
    assert made.studies[0].tempo == 126
    told = made.items[0]
    history = History(5, {**dict.fromkeys(made.items, 4), told: 0}, {told: State(rating)}, reached={told: reached})
    (now,) = fill([block], player, Today(0, history))
    (study, line) = next(
        (study, line)
        for study in now.studies
        for line in study.lines
        if study.title.startswith("Major") and line.label.replace("♭", "b").replace("♯", "#") == told.unit
    )
    assert _tempo(study, line) == wanted


def test_a_tempo_of_a_line_begins_no_phrase() -> None:
    """A line of six bars that has a tempo of its own stands on as many systems as one that has none."""
    player = _player("professional")
    study = next(each for each in fill([_scales(player, 12)], player, Today(0, History()))[0].studies)
    plain = study.lines[0]
    own = replace(study, lines=(replace(plain, measures=(Measure(study.bar, tempo=60),)),))
    assert not [*write_score(own).recurse().getElementsByClass(PhraseLayout)]


def test_lines_of_another_scale_stand_under_its_name_on_a_sheet_that_is_called_by_its_kind() -> None:
    player = _player("elementary", low=_note("A3"), high=_note("D5"))
    found = 0
    for day in range(8):
        (made,) = fill([_scales(player, 9)], player, Today(day, History()))
        for study in made.studies:
            choices = list(dict.fromkeys(line.heading for line in study.lines if line.heading and list(line.tones)))
            if choices:
                found += 1
                assert study.title == "Scales"
                assert len(choices) >= 2
            else:
                assert study.title.endswith(" scales")
    assert found


def test_scales_are_tongued_and_slurred_in_turn_by_who_knows_more_than_one_way() -> None:
    def spoken(level: str) -> set[str]:
        player = _player(level)
        studies = [
            study for day in range(8) for study in fill([_scales(player)], player, Today(day, History()))[0].studies
        ]
        return {study.subtitle.rpartition(", ")[2] for study in studies}

    assert spoken("first-months") == {"tongued"}
    assert spoken("elementary") == {"tongued", "slurred"}
    assert len(spoken("professional")) >= 5


def test_who_knows_few_keys_has_long_tones_in_one_of_them() -> None:
    """In the first months, keys of two sharps or flats at most; later each half step."""
    for level, most in (("first-months", 2), ("professional", 7)):
        player = _player(level, low=_note("C4"), high=_note("C5"))
        block = replace(_scales(player), kind="long-tones", tempo=60)
        (made,) = fill([block], player, Today(0, History()))
        numbers = {tone.pitch.number % 12 for study in made.studies for line in study.lines for tone in line.tones}
        majors = [{(tonic + step) % 12 for step in (0, 2, 4, 5, 7, 9, 11)} for tonic in (10, 5, 0, 7, 2)]
        assert any(numbers <= major for major in majors) == (most == 2)


def test_a_tempo_that_was_asked_for_is_kept() -> None:
    player = _player("professional")
    block = replace(_scales(player), settings={"tempo": 72})
    (made,) = fill([block], player, Today(0, History()))
    history = History(5, dict.fromkeys(made.items, 1), dict.fromkeys(made.items, State(1, step=-2)))
    (now,) = fill([block], player, Today(0, history))
    assert {_tempo(study, line) for study in now.studies for line in study.lines} <= {60, 63, 66, 69, 72}
    assert len({_tempo(study, line) for study in now.studies for line in study.lines}) == 1


def _thirty_days(
    folder: Path, seed: int, kind: str, minutes: int, share: float, ahead: int = 1
) -> tuple[float, int, float]:
    """Weak turns for each strong one in thirty days, the longest gap in days, and how many places a day had."""
    drawn = random.Random(seed)
    player = _player("professional")
    profile = folder / "p.toml"
    profile.write_text('label = "x"\n', encoding="utf-8")
    journal = Journal(folder / "journal.sqlite")
    block = replace(_scales(player, minutes), kind=kind)
    turns: Counter[Item] = Counter()
    weak: dict[Item, bool] = {}
    last: dict[Item, int] = {}
    gap = 0
    for begins in range(0, 30, ahead):
        printed = []
        known = journal.history(profile, _DAY + datetime.timedelta(days=begins))
        for number in range(begins, begins + ahead):
            day = _DAY + datetime.timedelta(days=number)
            (made,) = fill([block], player, Today(day.toordinal(), known))
            known = known.after(made.items, day)
            printed.append((number, day, made.items))
        for _, day, items in printed:
            journal.keep_session(profile, day, [KeptBlock("technique", kind, minutes, items)])
        for number, day, items in printed:
            for item in items:
                weak.setdefault(item, drawn.random() < share)
                gap = max(gap, number - last.get(item, 0))
                last[item] = number
            turns.update(items)
            journal.log(profile, *(
                Entry(day, 1, drawn.choice((1, 2) if weak[item] else (3, 4)), (item,), part=item.unit) for item in items
            ))  # fmt: skip
    means = [
        sum(turns[item] for item in turns if weak[item] is which) / sum(weak[item] is which for item in turns)
        for which in (True, False)
    ]
    return means[0] / means[1], max(gap, *(30 - day for day in last.values())), turns.total() / 30


@pytest.mark.parametrize(("kind", "minutes", "ahead"), [("scales", 5, 1), ("patterns", 8, 5)])
def test_in_thirty_days_what_goes_badly_comes_twice_as_often(tmp_path, kind: str, minutes: int, ahead: int) -> None:
    """A day has places for less than half of the 84 scales and keys, a fifth of which is weak; ratings are invented."""
    ratio, gap, places = _thirty_days(tmp_path, 3, kind, minutes, 0.2, ahead)
    assert places <= 42
    assert ratio >= (2 if ahead == 1 else 1.9)
    # Whatever is rated everything comes round; few sheets a day put it off by a day for each scale at most.
    assert gap <= round_of(84, int(places)) + 7 + ahead


@pytest.mark.parametrize(
    ("level", "aim", "minutes"),
    [("first-months", Aim.TECHNIQUE, 30), ("professional", Aim.TECHNIQUE, 60), ("intermediate", Aim.JAZZ, 10)],
)
def test_a_session_has_few_pages(level: str, aim: Aim, minutes: int) -> None:
    """A page for each two and a half minutes that are not rest at most, a beginner's half hour six."""
    session = make_session(_player(level), _DAY, minutes, aim)
    with Engraver(parts=2) as engraver:
        pdf = next(iter(book_files(session, engraver, name="x").values()))
    pages = len(PdfReader(io.BytesIO(pdf)).pages)
    assert pages <= sum(block.minutes for block in session.plan.blocks if block.part is not Part.REST) / 2.5
    assert level != "first-months" or pages <= 6


def test_keys_that_were_asked_for_are_kept_and_more_scales_fill_the_time() -> None:
    player = _player("professional")
    asked = ScaleParameters.checked_values({"keys": "F Bb"})
    (made,) = fill([replace(_scales(player, 10), settings=asked)], player, Today(0, History()))
    assert {item.unit for item in made.items} == {"F", "Bb"}
    assert len({item.choice for item in made.items}) >= 3
    # What would be sheets of two lines stands on one, under names of their own.
    assert len(made.studies) == 1
    assert [line.heading for line in made.studies[0].lines if line.heading]
    assert not made.lacks


@pytest.mark.parametrize(("low", "high"), [("C4", "E4"), ("C6", "F6"), ("F#3", "C#4")])
@pytest.mark.parametrize("level", ["first-months", "professional"])
def test_whoever_has_three_notes_has_a_session_too(level: str, low: str, high: str) -> None:
    player = Profile(label="x", level=level, low=_note(low), high=_note(high))
    for aim in (Aim.FLEXIBILITY, Aim.RANGE):
        session = make_session(player, _DAY, 30, aim)
        assert sum(block.minutes for block in session.plan.blocks) == 30
        assert session.filled
