"""A picture of the weeks behind: minutes by part, and the tempi that were reached."""

import io
from typing import TYPE_CHECKING

from etudegen.practice.looking_back import LookBack
from etudegen.practice.rules import Part

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PICTURES = ("png", "svg", "pdf")
# Told apart by who cannot tell red from green, and by their hatching on a printer without colours. Rest is white.
_COLOURS = ("#0072b2", "#e69f00", "#56b4e9", "#009e73", "#f0e442", "#d55e00", "#cc79a7", "#999999")
_HATCHES = ("", "//", "", "\\\\", "..", "", "xx", "--")
_MARKS = "os^Dvp*Xh"


def picture(back: LookBack, title: str, form: str) -> bytes:
    """Return the picture as a PNG, SVG or PDF file; the same weeks give the same bytes."""
    # Who asks for no picture need not wait for the library.
    import matplotlib as mpl  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415

    with mpl.rc_context({"svg.hashsalt": "etudegen", "font.family": "DejaVu Sans", "hatch.linewidth": 0.5}):
        figure = Figure(figsize=(8.0, 8.0 if back.tempi else 4.2), layout="constrained")
        axes = figure.subplots(2 if back.tempi else 1, 1, squeeze=False)[:, 0]
        # What people write is no formula.
        figure.suptitle(title.replace("$", r"\$"))
        _minutes(axes[0], back)
        if back.tempi:
            _tempi(axes[1], back)
        for each in axes:
            _name_weeks(each, back)
        written = io.BytesIO()
        # Without the time at which it was made.
        nameless = {"png": {"Software": None}, "svg": {"Date": None}, "pdf": {"CreationDate": None}}[form]
        figure.savefig(written, format=form, dpi=150, metadata=nameless)
    return written.getvalue()


def _name_weeks(axes: "Axes", back: LookBack) -> None:
    every = max(1, len(back.weeks) // 10)
    axes.set_xticks(range(0, len(back.weeks), every), [str(week.monday) for week in back.weeks][::every], rotation=30)
    axes.set_xlim(-0.5, len(back.weeks) - 0.5)
    axes.set_xlabel("week from Monday")


def _minutes(axes: "Axes", back: LookBack) -> None:
    places = range(len(back.weeks))
    below = [0] * len(back.weeks)
    for number, part in enumerate(back.parts):
        minutes = [week.minutes.get(part, 0) for week in back.weeks]
        rest = part == Part.REST
        axes.bar(
            places,
            minutes,
            bottom=below,
            label=part,
            color="white" if rest else _COLOURS[number % len(_COLOURS)],
            hatch="" if rest else _HATCHES[number % len(_HATCHES)],
            edgecolor="black",
            linewidth=0.6,
        )
        below = [one + other for one, other in zip(below, minutes, strict=True)]
    axes.set_ylabel("minutes")
    axes.set_ylim(bottom=0)
    if back.parts:
        axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), frameon=False)
    else:
        axes.text(0.5, 0.5, "no sessions in these weeks", ha="center", va="center", transform=axes.transAxes)


def _tempi(axes: "Axes", back: LookBack) -> None:
    for number, kind in enumerate(back.kinds):
        reached = [each for each in back.tempi if each.kind == kind]
        # The fastest of a day.
        best = {each.day: max(other.tempo for other in reached if other.day == each.day) for each in reached}
        days = [(day - back.weeks[0].monday).days / 7 for day in best]
        colour = _COLOURS[number % len(_COLOURS)]
        axes.plot(days, list(best.values()), marker=_MARKS[number % len(_MARKS)], label=kind, color=colour)
    axes.set_ylabel("tempo reached")
    axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), frameon=False)
