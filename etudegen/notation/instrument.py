"""The instrument of a part, as music21 has it."""

from music21.instrument import Instrument as PlayedInstrument
from music21.interval import Interval

from etudegen.instrument.catalogue import Instrument
from etudegen.instrument.partials import FUNDAMENTAL
from etudegen.notation.pitch import score_pitch


def played_on(instrument: Instrument) -> PlayedInstrument:
    """Return an instrument for a part: its names, its sound, and how it transposes."""
    played = PlayedInstrument(instrument.name)
    played.partName = instrument.name
    played.instrumentAbbreviation = instrument.abbreviation
    played.instrumentSound = instrument.musicxml_sound
    played.midiProgram = instrument.midi_program
    played.midiChannel = 0
    # Left to itself music21 makes random ids, and equal sheets would differ.
    played.partId, played.instrumentId = "P1", "P1-I1"
    if instrument.half_steps:
        written, sounding = score_pitch(FUNDAMENTAL), score_pitch(instrument.sounding(FUNDAMENTAL))
        played.transposition = Interval(written, sounding)
    return played
