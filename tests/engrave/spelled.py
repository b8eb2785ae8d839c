"""How a bar was spelled, as a line of text that a test can print."""

from fourlimb.engrave.spell import Slot


def said(slots: tuple[Slot, ...]) -> str:
    """One word a slot: value, dots, "r" for a rest, "t" and the number for a tuplet, brackets round beams."""
    words = []
    for index, slot in enumerate(slots):
        word = f"{slot.value}{'.' * slot.dots}{'' if slot.sounds else 'r'}"
        word += f"t{slot.tuplet.actual}" if slot.tuplet else ""
        if slot.beam is not None:
            first = index == 0 or slots[index - 1].beam != slot.beam
            last = index + 1 == len(slots) or slots[index + 1].beam != slot.beam
            word = f"{'[' if first else ''}{word}{']' if last else ''}"
        words.append(word)
    return " ".join(words)
