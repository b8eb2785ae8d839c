"""Recording -> grid and hits. In: decoded sound, a MIDI performance. Out: `Listening`.

`open_recording` decodes; `listen` hears, finds beats and bars, places every hit, finds the form. `read_midi` gives
the same from a MIDI file. `regrid`, `place_hits` and `form` do parts of it again after the teacher's corrections,
without sound.
"""

from .colour import sounding_like
from .decode import open_recording, read_audio
from .ears import Ears, Heard, HeardStroke
from .flux import FluxEars
from .form import form
from .heights import heights
from .hints import Hints, regrid
from .midi import read_midi
from .other_tempo import drums_in_words
from .places import place_hits
from .song import default_ears, hits_of, listen
from .taught import Learnt, Spoken, learn, still_possible
from .unlike import hits_of_take

__all__ = [
    "Ears", "FluxEars", "Heard", "HeardStroke", "Hints", "Learnt", "Spoken",
    "default_ears", "drums_in_words", "form", "heights", "hits_of", "hits_of_take", "learn", "listen",
    "open_recording", "place_hits",
    "read_audio", "read_midi", "regrid", "sounding_like", "still_possible",
]  # fmt: skip
