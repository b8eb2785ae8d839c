"""Rectangles on a page."""

from typing import NamedTuple


class Box(NamedTuple):
    """A rectangle in drawing units, y down. `kind` is the engraver's class, `id` our name when it has one."""

    kind: str
    left: float
    top: float
    right: float
    bottom: float
    id: str = ""

    def meets(self, other: "Box", gap: float = 0.0) -> bool:
        """True when the two overlap, or come nearer than `gap` (negative: overlap by more than that)."""
        return (
            self.left < other.right + gap
            and other.left < self.right + gap
            and self.top < other.bottom + gap
            and other.top < self.bottom + gap
        )

    def moved(self, down: float) -> "Box":
        """The same box further down."""
        if not down:
            return self
        return Box(self.kind, self.left, self.top + down, self.right, self.bottom + down, self.id)
