"""A take against a chart.

In: the hits of a take (from audio or MIDI), a chart and its grid. Out: the `Marking`: every written stroke with a
verdict, how late it was in the take's own time, a score for each bar, a few sentences, and what to practise next.
"""

from .engine import bars_asked, mark
from .instead import struck
from .unheard import TOLD, Heights

__all__ = ["TOLD", "Heights", "bars_asked", "mark", "struck"]
