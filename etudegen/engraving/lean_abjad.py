"""abjad without Sphinx, which it would load for its own manual: import it from here, not by itself."""

from etudegen.deferral import defer

defer("uqbar.apis")

# abjad uses this one too, and counts on the deferred one to have brought it along.
import uqbar.graphs  # noqa: E402, F401, I001
import abjad  # noqa: E402

__all__ = ["abjad"]
