"""Whole ways: from what is asked for to the bytes of a sheet, a tune, a session, a folder of players."""
