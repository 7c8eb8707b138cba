"""A performance as a play-along: arranged with click, drone or band, as MIDI and as sound."""
