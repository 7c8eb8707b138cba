"""Melodies that players bring along as MusicXML files, read safely."""
