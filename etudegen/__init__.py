"""Practice material for trumpet players, from the acoustics of the tube to the printed page.

The folders, in the order in which music flows through them: ``instrument`` and ``theory`` know what can be
played and how it is spelled; ``exercises`` turn parameters into a :class:`~etudegen.study.Study`; ``notation``
writes the study down as a music21 score; ``engraving`` and ``export`` put the score on paper and into files;
``cli`` is the command line.
"""

__version__ = "0.1.0"
