"""Pitches and their spelling, rhythms and keys: what a musician knows before picking up an instrument."""
