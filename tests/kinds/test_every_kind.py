"""Every kind of exercise in the table, found there: whatever is typed gives a valid study or a refusal."""

import functools
import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, note, settings
from hypothesis import strategies as st

from etudegen.exercises.common import Common
from etudegen.exercises.kinds import KINDS, Kind
from etudegen.exercises.settings import settings_of
from etudegen.instrument.valves import Valves, parse_valves
from etudegen.study import Line, Rest, Study, Tone
from etudegen.theory.articulation import Mark, articulation_names
from etudegen.theory.chords import chord_names
from etudegen.theory.patterns import pattern_names
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.scales import scale_names
from etudegen.theory.swing import SWUNG
from tests.kinds.rules import CHORDS, RULES, SCALES, SPOKEN, Rule
from tests.kinds.strategies import DRAWN, Asked, PlainChance, asked, choices_of, draw_texts
from tests.kinds.validity import check, examine, made

every_kind = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
# Many more are drawn by tests/long_check.py.
EXAMPLES = 16
SAMPLE, MOST = 20, 200


@every_kind
@settings(max_examples=EXAMPLES)
@given(data=st.data())
def test_random_texts_give_a_valid_study_or_a_refusal_and_nothing_else(kind: Kind, data: st.DataObject) -> None:
    request = data.draw(asked(kind))
    note(str(request))
    study = check(request)
    if study is not None:
        for rule in RULES[kind.name]:
            rule(request.parameters(), study)


@functools.cache
def some_studies(kind: Kind) -> tuple[tuple[Asked, Common, Study], ...]:
    """The first random requests that can be played, always the same ones, as many as it takes to ask for everything."""
    chance = PlainChance(random.Random(kind.name))
    found: list[tuple[Asked, Common, Study]] = []
    missing = set(settings_of(kind.parameters)) - _never_asked(kind)
    while len(found) < SAMPLE or (missing and len(found) < MOST):
        request = draw_texts(kind, chance)
        try:
            result = made(request)
        except Exception:
            # What fails otherwise is told by the test above.
            continue
        if result is not None:
            found.append((request, *result))
            missing -= set(request.texts)
    return tuple(found)


@pytest.mark.parametrize(
    ("kind", "rule"),
    [
        pytest.param(kind, rule, id=f"{kind.name}: {rule.__name__.replace('_', ' ')}")
        for kind in KINDS
        for rule in RULES[kind.name]
    ],
)
def test_a_kind_keeps_each_of_its_rules(kind: Kind, rule: Rule) -> None:
    for request, parameters, study in some_studies(kind):
        try:
            rule(parameters, study)
        except AssertionError as error:
            raise AssertionError(f"{rule.__name__} is broken by: {request}") from error


@every_kind
def test_every_setting_is_asked_for_in_some_study_that_can_be_played(kind: Kind) -> None:
    given = {name for request, _, _ in some_studies(kind) for name in request.texts}
    assert given == set(settings_of(kind.parameters)) - _never_asked(kind)


def _never_asked(kind: Kind) -> set[str]:
    # Any other rest is refused there.
    return {"rests"} if kind.name in ("contact", "range") else set()


def single_settings() -> list[object]:
    """Each value of each setting that has a list of values, asked for alone."""
    named = {
        "scale": scale_names(), "chord": chord_names(), "articulation": articulation_names(),
        "pattern": pattern_names(), "contour": ("neighbours", "climb", "skips", "sweep", "anchor", "threes", "leaps"),
    }  # fmt: skip
    params = []
    for kind in KINDS:
        for name, setting in settings_of(kind.parameters).items():
            values = [True] if setting.is_flag else [*choices_of(kind.parameters, name), *named.get(name, ())]
            params += [pytest.param(Asked(kind, {name: value}), id=f"{kind.name} {name} {value}") for value in values]
    return params


@pytest.mark.parametrize("request_", single_settings())
def test_each_choice_that_the_help_offers_gives_a_valid_study_by_itself(request_: Asked) -> None:
    ((name, value),) = request_.texts.items()
    if (
        "keys" in settings_of(request_.kind.parameters)
        and request_.kind.name != "range"
        and name not in ("keys", "order")
    ):
        # Twelve keys say no more of a choice than three, one of them an ugly one.
        request_ = replace(request_, texts={"keys": "C F# Bb", **request_.texts})
    study = check(request_)
    if request_.kind.name in ("contact", "range") and name == "rests" and value != "equal":
        assert study is None, "a contact set has its own rests, and range work at least equal ones"
    elif request_.kind.name == "range" and name == "order":
        assert study is None, "the usual range study climbs and has no keys"
    elif request_.kind.name == "patterns" and value == "two":
        assert study is None, "from F sharp 3 to G5 no key has two octaves and a cell more"
    elif request_.kind.name == "patterns" and value == "triplets":
        assert study is None, "the usual cell has four notes"
    else:
        assert study is not None
        for rule in RULES[request_.kind.name]:
            rule(request_.parameters(), study)


@pytest.mark.parametrize(
    ("kind", "setting", "low", "high"),
    [
        *((kind.name, "tempo", *((40, 80) if kind.name == "contact" else (20, 300))) for kind in KINDS),
        *((kind.name, "seed", 0, 2**31 - 1) for kind in KINDS),
        ("long-tones", "counts", 2, 32),
        ("slurs", "repeats", 1, 12),
        # About two to six minutes of contact. Common practice, no source.
        ("contact", "minutes", 2, 6),
        ("arpeggios", "inversion", 0, 2),
        ("changes", "beats", 2, 7),
        ("vocabulary", "beats", 2, 7),
    ],
)
def test_numbers_are_taken_up_to_their_limits_and_refused_beyond(kind: str, setting: str, low: int, high: int) -> None:
    (row,) = [each for each in KINDS if each.name == kind]
    for number in (low, high):
        assert check(Asked(row, {setting: str(number)})) is not None
    for number in (low - 1, high + 1):
        assert made(Asked(row, {setting: str(number)})) is None


@pytest.mark.parametrize(
    ("reach", "allowed"), [("F#5", False), ("G5", True), ("G#5", True), ("A5", True), ("A#5", False)]
)
def test_a_reach_is_a_note_at_most_a_whole_step_above_the_top(reach: str, allowed: bool) -> None:
    """Common practice, no source."""
    (kind,) = [each for each in KINDS if each.name == "range"]
    study = check(Asked(kind, {"high": "G5", "reach": reach}))
    assert (study is not None) == allowed
    if study is not None:
        highest = max(tone.pitch.number for line in study.lines for tone in line.tones)
        assert highest == WrittenPitch.parse(reach).number
        assert ("reaching" in study.subtitle) == (reach != "G5")


def test_the_tables_of_the_rules_hold_nothing_that_there_is_not_and_every_chord() -> None:
    assert set(SCALES) <= set(scale_names())
    assert set(chord_names()) <= set(CHORDS)


def test_texts_are_drawn_only_for_settings_that_some_kind_has() -> None:
    assert set(DRAWN) <= {name for kind in KINDS for name in settings_of(kind.parameters)}


@pytest.mark.parametrize("name", SPOKEN)
def test_an_articulation_never_changes_the_notes(name: str) -> None:
    (kind,) = [kind for kind in KINDS if kind.name == name]
    bare = ("articulation", "articulations", "rhythm")
    for request, _, _ in some_studies(kind)[:3]:
        texts = {name: text for name, text in request.texts.items() if name not in bare}
        heard = set()
        for articulation in articulation_names():
            own_rhythm = {} if "phrase" in settings_of(kind.parameters) else {"rhythm": "eighths"}
            found = made(replace(request, texts={**texts, **own_rhythm, "articulation": articulation}))
            if found is not None:
                heard.add(tuple(
                    (line.label, tuple((tone.pitch, tone.duration, tone.valves, tone.partial) for tone in line.tones))
                    for line in found[1].lines
                ))  # fmt: skip
        assert len(heard) <= 1, request


# Faults that a study might have, each of which has to be found out. -----------------------------------------------


def _in_the_middle(change: Callable[[Tone], Tone]) -> Callable[[Study], Study]:
    """Change the second tone of the first line."""

    def fault(study: Study) -> Study:
        line, seen, events = study.lines[0], 0, []
        for event in line.events:
            seen += isinstance(event, Tone)
            events.append(change(event) if isinstance(event, Tone) and seen == 2 else event)
        return replace(study, lines=(replace(line, events=tuple(events)), *study.lines[1:]))

    return fault


def _at_the_end(change: Callable[[Tone], Tone]) -> Callable[[Study], Study]:
    """Change the last tone of the first line."""

    def fault(study: Study) -> Study:
        line = study.lines[0]
        last = max(place for place, event in enumerate(line.events) if isinstance(event, Tone))
        events = (*line.events[:last], change(line.events[last]), *line.events[last + 1 :])
        return replace(study, lines=(replace(line, events=events), *study.lines[1:]))

    return fault


def _at_the_second_last(change: Callable[[Tone], Tone]) -> Callable[[Study], Study]:
    """Change the second last tone of the first line."""

    def fault(study: Study) -> Study:
        line = study.lines[0]
        place = [place for place, event in enumerate(line.events) if isinstance(event, Tone)][-2]
        events = (*line.events[:place], change(line.events[place]), *line.events[place + 1 :])
        return replace(study, lines=(replace(line, events=events), *study.lines[1:]))

    return fault


def _lines(change: Callable[[tuple[Line, ...]], tuple[Line, ...]]) -> Callable[[Study], Study]:
    return lambda study: replace(study, lines=change(study.lines))


def _others(tone: Tone) -> Valves:
    return parse_valves("0" if str(tone.valves) == "13" else "13")


def _without_signature(lines: tuple[Line, ...]) -> tuple[Line, ...]:
    return tuple(replace(line, sharps=0) for line in lines)


FAULTS: dict[str, Callable[[Study], Study]] = {
    "a tone a half step higher": _in_the_middle(lambda tone: replace(tone, pitch=tone.pitch.above(0, 1))),
    "a tone an octave lower": _in_the_middle(lambda tone: replace(tone, pitch=tone.pitch.above(-7, -12))),
    "a longer tone": _in_the_middle(lambda tone: replace(tone, duration=tone.duration + Fraction(1, 8))),
    "a tone without length": _in_the_middle(lambda tone: replace(tone, duration=Fraction(0))),
    "other valves": _in_the_middle(lambda tone: replace(tone, valves=_others(tone))),
    "another partial": _in_the_middle(lambda tone: replace(tone, partial=(tone.partial or 1) + 1)),
    "another fingering": _in_the_middle(lambda tone: replace(tone, fingering="321")),
    "another number of a partial": _in_the_middle(lambda tone: replace(tone, partial_number="99")),
    "a bracket": _in_the_middle(lambda tone: replace(tone, octave_bracket=not tone.octave_bracket)),
    "a double sharp": _in_the_middle(lambda tone: replace(tone, pitch=replace(tone.pitch, alter=2))),
    "bent by a third": _in_the_middle(lambda tone: replace(tone, bent=3)),
    "a breath inside a bar": _in_the_middle(lambda tone: replace(tone, breath=True, duration=Fraction(1, 2))),
    "a breath where a rest follows": _at_the_end(lambda tone: replace(tone, breath=True)),
    "a slur into a rest": _at_the_end(lambda tone: replace(tone, slurred=True)),
    "no rest at all": _lines(lambda lines: (replace(lines[0], events=tuple(lines[0].tones)), *lines[1:])),
    "a bar of rest too much": _lines(
        lambda lines: (replace(lines[0], events=(*lines[0].events, Rest(Fraction(8)))), *lines[1:])
    ),
    "a line left out": _lines(lambda lines: (lines[0], *lines[2:])),
    "a line twice": _lines(lambda lines: (lines[0], *lines)),
    "lines in another order": _lines(lambda lines: lines[::-1]),
    "a name with a slash": lambda study: replace(study, name="a/b"),
    "a name with another letter": lambda study: replace(study, name="ü"),
    "no title": lambda study: replace(study, title=""),
    "no instruction": lambda study: replace(study, instruction=""),
    "no line": lambda study: replace(study, lines=()),
}
# Where a sheet usually has one line, two are asked for: one cannot come in another order.
SEVERAL = {"etudes": {"keys": "Bb D", "articulation": "tongued"}}
# The usual phrase ends on a quarter note.
HELD = tuple(name for name in SPOKEN if name != "vocabulary")
OF_SOME: dict[str, tuple[tuple[str, ...], Callable[[Study], Study]]] = {
    "swing that was not asked for": (SPOKEN, lambda study: replace(study, feel=SWUNG)),
    "a dot over a note": (SPOKEN, _in_the_middle(lambda tone: replace(tone, marks=(Mark.STACCATO,)))),
    "a syllable": (SPOKEN, _in_the_middle(lambda tone: replace(tone, syllable="t"))),
    "a slur": (SPOKEN, _in_the_middle(lambda tone: replace(tone, slurred=True))),
    "no slur": (("bends",), _in_the_middle(lambda tone: replace(tone, slurred=False))),
    "a swell": (("long-tones", "contact"), _in_the_middle(lambda tone: replace(tone, swell=True))),
    "a remark": (("bends",), _at_the_second_last(lambda tone: replace(tone, remark="+1 cents"))),
    "another time of contact": (("contact",), lambda study: replace(study, contact_seconds=Fraction(170))),
    "no word of the time": (("contact",), lambda study: replace(study, subtitle="")),
    "no key signature": (("scales", "patterns", "range", "changes", "vocabulary"), _lines(_without_signature)),
    "no hold": (HELD, _at_the_end(lambda tone: replace(tone, duration=Fraction(1)))),
}


@functools.cache
def usual_study(kind: Kind) -> tuple[Common, Study]:
    """The study that a kind makes when nothing is asked for; there is nothing wrong with it."""
    parameters = kind.parameters.of(SEVERAL.get(kind.name, {}))
    study = kind.study(parameters)
    _examine_wholly(kind, parameters, study)
    return parameters, study


@pytest.mark.parametrize(
    ("kind", "fault"),
    [pytest.param(kind, fault, id=f"{kind.name}: {name}") for kind in KINDS for name, fault in FAULTS.items()]
    + [
        pytest.param(kind, fault, id=f"{kind.name}: {name}")
        for kind in KINDS
        for name, (kinds, fault) in OF_SOME.items()
        if kind.name in kinds
    ],
)
def test_a_study_with_a_fault_is_found_out(kind: Kind, fault: Callable[[Study], Study]) -> None:
    parameters, study = usual_study(kind)
    with pytest.raises(AssertionError):
        _examine_wholly(kind, parameters, fault(study))


def _examine_wholly(kind: Kind, parameters: Common, study: Study) -> None:
    examine(kind.name, parameters, study)
    for rule in RULES[kind.name]:
        rule(parameters, study)
