"""From the score to paper: score -> page (plain values) -> abjad -> LilyPond -> PDF."""
