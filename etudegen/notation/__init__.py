"""From a study to a music21 score that holds everything the page shows."""
