"""A play-along as a standard MIDI file, one track a voice."""

from etudegen.export.midi import MidiVoice, midi_of
from etudegen.sound.arrangement import Arrangement

# Controllers of General MIDI.
_VOLUME, _PAN = 7, 10


def midi_file(arrangement: Arrangement) -> bytes:
    """Return a play-along as the bytes of a MIDI file: a track for tempos and metre, then one for each voice."""
    voices = [
        MidiVoice(voice.name, voice.program, voice.channel, voice.notes, ((_VOLUME, voice.volume), (_PAN, voice.pan)))
        for voice in arrangement.voices
    ]
    return midi_of(arrangement.title, arrangement.metre, arrangement.tempos, voices, arrangement.duration)
