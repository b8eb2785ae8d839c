"""The usual cautions, in one table: where a sentence belongs, and the sentence.

General information, not medical, legal or electrical advice. Drums are loud, practice strains, songs have owners,
students may be minors; the words follow published advice (named in each topic below) and never say that a level, a
use or a practice is safe or allowed. Whatever is printed or shown draws from here, so a teacher changes a sentence
once.

Topics and what they rest on:

- hearing: NIOSH 98-126 (85 dBA for 8 h, 3 dB halves the time); WHO global standard for safe listening, 2022.
- strain: Azar, Medical Problems of Performing Artists 35 (2020) 153-161 and Frontiers in Psychology 2022, 883279;
  rules for musicians after Horvath, *Playing (less) hurt*.
- gear: HSE, *Electrical safety for entertainers*, INDG247 rev1, 2014.
- rights: 17 USC 101 and 106; NAfME, *Copyright: arranging, adapting, transcribing*. Laws differ by country.
- students: advice to music teachers on recordings of pupils (personal data; consent of a parent for a minor).
"""

from typing import Final, Literal, NamedTuple

Topic = Literal["hearing", "strain", "gear", "rights", "students"]
Where = Literal["start", "page", "player", "export", "ladder", "practice", "setup", "lesson", "chart", "take", "film"]


class Caution(NamedTuple):
    """One sentence: its id, what it is about, the places that show it, and the words."""

    id: str
    topic: Topic
    where: tuple[Where, ...]
    say: str


CAUTIONS: Final[tuple[Caution, ...]] = (
    Caution(
        "hearing",
        "hearing",
        ("start", "page"),
        "Drums and headphones can harm hearing for good. Wear hearing protection at the kit and keep the "
        "playback lower than you think you need.",
    ),
    Caution(
        "quiet time",
        "hearing",
        ("practice",),
        "Time for quiet: give your ears and hands a few minutes.",
    ),
    Caution(
        "dose",
        "hearing",
        ("player",),
        "Loudness and time add up: every 3 dB louder halves the time that is advised.",
    ),
    Caution(
        "ringing",
        "hearing",
        ("page",),
        "If your ears ring or sound dull after playing, stop for the day, rest them, and see a doctor or "
        "audiologist if it does not pass or comes back.",
    ),
    Caution(
        "children",
        "hearing",
        ("page",),
        "Children need protection that fits; an adult sets the volume.",
    ),
    Caution(
        "file level",
        "hearing",
        ("export", "film"),
        "The file's loudness is not a sound level: set your own volume before you start.",
    ),
    Caution("one ear", "hearing", ("page",), "Leave one ear free or turn down if you must hear a warning."),
    Caution("warm up", "strain", ("ladder",), "Warm up slowly for a few minutes before the first rung."),
    Caution(
        "enough",
        "strain",
        ("ladder", "practice"),
        "After three failures, or ten minutes on one bar, that is enough for now: change bars or rest.",
    ),
    Caution(
        "rest",
        "strain",
        ("ladder", "practice"),
        "Every half hour rest about five minutes: shake out, stand up, drink.",
    ),
    Caution(
        "pain",
        "strain",
        ("ladder", "page"),
        "Pain, numbness or tingling means stop. If it returns, see a doctor or a physiotherapist who "
        "knows musicians.",
    ),
    Caution("loose", "strain", ("ladder",), "Fast comes from loose. If you tense up, go down a rung."),
    Caution(
        "weeks off",
        "strain",
        ("ladder",),
        "After weeks off, start with half the time and build up over days.",
    ),
    Caution(
        "seat",
        "strain",
        ("setup",),
        "Hips a little above knees, drums within easy reach: adjust the kit before you adjust yourself.",
    ),
    Caution(
        "current",
        "gear",
        ("setup",),
        "Plug amplified gear into an outlet protected by a residual-current device, check cables, keep "
        "drinks away; leave damaged gear unplugged and have a qualified person repair it.",
    ),
    Caution(
        "lifting",
        "gear",
        ("setup",),
        "Carry hardware in two trips or with two people; bend your knees, keep it close.",
    ),
    Caution("cables", "gear", ("setup",), "Tape cables down; keep the way to the door free."),
    Caution(
        "rights",
        "rights",
        ("lesson",),
        "Use recordings that you may use. A written part, a slowed copy or a film made from someone's "
        "song can need permission of the owners, even for teaching; the law differs from country to "
        "country.",
    ),
    Caution(
        "sharing",
        "rights",
        ("export",),
        "Sharing or selling this may need a licence for the song and, if the recording is in it, for the "
        "recording. If unsure, ask the publisher, your school, a collecting society or a lawyer.",
    ),
    Caution(
        "kept here",
        "rights",
        ("lesson",),
        "The lesson keeps the recording on this computer. Files for students can be made without the recording.",
    ),
    Caution("credit", "rights", ("chart",), "Name the song, its writers and the recording on the chart."),
    Caution("local take", "students", ("take",), "This take stays on this computer. Nothing is sent."),
    Caution(
        "ask first",
        "students",
        ("take", "film"),
        "Ask the student, and for a minor a parent or guardian, before you record; say what it is for and"
        " when you will delete it.",
    ),
    Caution(
        "faces",
        "students",
        ("film",),
        "Film hands and feet where faces are not needed; no names or school badges in a shared film.",
    ),
    Caution("delete", "students", ("take",), "Delete takes that you no longer need."),
    Caution(
        "school",
        "students",
        ("take", "film"),
        "Follow your school's safeguarding and data rules; they come before this tool.",
    ),
)


def cautions(where: Where) -> tuple[str, ...]:
    """The sentences to show at one place, in the order of the table."""
    return tuple(caution.say for caution in CAUTIONS if where in caution.where)


def caution(name: str) -> str:
    """The sentence with this id. Raises KeyError when the table has none."""
    for row in CAUTIONS:
        if row.id == name:
            return row.say
    raise KeyError(name)
