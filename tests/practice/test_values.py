"""Planning moves values: a text is read once, where it came in."""

import datetime

import pytest

from etudegen.practice.profile import Aim, Profile
from etudegen.practice.session import make_session
from etudegen.theory.pitch import WrittenPitch


# Those of jazz have changes, which are given as they are typed.
@pytest.mark.parametrize("aim", [Aim.TECHNIQUE, Aim.ENDURANCE, Aim.SOUND])
def test_no_pitch_is_read_from_a_text_once_everything_is_loaded(aim: Aim, monkeypatch: pytest.MonkeyPatch) -> None:
    player, day = Profile(label="x"), datetime.date(2026, 11, 25)
    make_session(player, day, 60, aim)
    read: list[str] = []
    parse = WrittenPitch.parse.__func__  # type: ignore[attr-defined]
    monkeypatch.setattr(WrittenPitch, "parse", classmethod(lambda cls, text: (read.append(text), parse(cls, text))[1]))
    make_session(player, day, 60, aim)
    assert read == []
