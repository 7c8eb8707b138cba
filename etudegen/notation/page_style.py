"""The measures of a printed page, in one place: MusicXML and the style of the engraver take theirs from here.

It knows nothing of studies, so that what sets text need not load them.
"""

from dataclasses import dataclass

_LINES_OF_A_STAFF, _POINTS_OF_AN_INCH, _MILLIMETRES_OF_AN_INCH = 5, 72.27, 25.4


@dataclass(frozen=True, slots=True)
class PageStyle:
    """How a page is laid out; lengths are millimetres.

    ``staff`` is the height of a staff: 7.2 mm read well from a metre away. A staff distance is that from the top line
    of one staff to that of the next. Within a study it is even, between ``least_staff_distance`` and
    ``most_staff_distance``; where a page has room it is spread by up to ``most_spread``, to no more than
    ``spread_staff_distance``. The size of a title counts in steps of which six double the size of the text.
    """

    staff: float = 7.2
    top_margin: float = 12.0
    bottom_margin: float = 12.0
    side_margin: float = 15.0
    # Room for the names of lines.
    indent: float = 9.0
    wide_indent: float = 18.0
    least_staff_distance: float = 25.5
    most_staff_distance: float = 30.5
    spread_staff_distance: float = 31.0
    most_spread: float = 3.0
    # What is kept free around systems, titles, and rows of text.
    system_padding: float = 2.2
    above_title: float = 9.0
    below_title: float = 4.0
    text_padding: float = 0.9
    below_head: float = 2.7
    above_foot: float = 4.0
    # The columns of a plan: when, how long, what, why, and on which pages.
    plan_columns: tuple[float, float, float, float, float] = (12.0, 17.0, 69.0, 64.0, 18.0)
    plan_gap: float = 1.5
    title_size: float = 5.0

    @property
    def staff_space(self) -> float:
        """The distance of two lines of a staff."""
        return self.staff / (_LINES_OF_A_STAFF - 1)

    @property
    def staff_points(self) -> float:
        """The height of a staff in the points that LilyPond counts in."""
        return self.staff / _MILLIMETRES_OF_AN_INCH * _POINTS_OF_AN_INCH


SHEET = PageStyle()
# Studies of a book follow one another, their titles among the music.
BOOK = PageStyle(title_size=3.0)
