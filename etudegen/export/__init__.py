"""From the score to files that other programs open: MusicXML, MIDI, and how files are put on the disk."""
