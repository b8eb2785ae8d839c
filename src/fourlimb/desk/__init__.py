"""The desk: a local web screen where the teacher listens, corrects and decides.

In: a lesson's folder (or a folder of lessons), the recording if it is at hand, and the teacher's word. Out: the same
changes that the command line makes, through the same functions. Listens on this computer only.
"""

from .desk import Desk, desk_at
from .server import serve

__all__ = ["Desk", "desk_at", "serve"]
