"""The command line: thin, no logic. What it does, the library does through the same functions.

Exit codes: 0 done; 1 the input cannot be used (one line: what, where, what to do); 2 usage; 130 stopped by Ctrl-C.
Everything heavy is imported inside the commands, so that `--help` answers at once.
"""

import os
from pathlib import Path
from typing import Any

import click

from fourlimb import __version__
from fourlimb.terminal import STOPPED, is_device, pour, put, reachable, stoppable, told

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
    # The ears' products are small: threads that wait for one another cost more than they give on a busy machine
    # (14 s a minute against 3, measured), and the last digit of a sum depends on their number. numpy reads this once,
    # when it is imported; what the user has set stays.
    os.environ.setdefault(_threads, "1")

KIT_HELP = "Kit and player, like 'double pedal, second crash, no ride, open-handed, no left foot'."
CORRECT_EXAMPLES = """\b
fourlimb correct night-ferry.lesson 'bar 12: kick 1 2& 3; snare 2 4'
fourlimb correct night-ferry.lesson 'bars 9-12: hat every 8th'
fourlimb correct night-ferry.lesson 'learn from bar 12'
fourlimb correct night-ferry.lesson 'tempo /2'
fourlimb correct night-ferry.lesson --undo
"""
AIM_EXAMPLES = """\b
fourlimb aim night-ferry.lesson 'no 16th kicks'
fourlimb aim night-ferry.lesson 'grade 3'
fourlimb aim night-ferry.lesson 'tempo 70 %'
"""
SLOW_EXAMPLES = """\b
fourlimb slow "my song.mp3" --lesson my-song.lesson --bars 9-12
fourlimb slow "my song.mp3" --lesson my-song.lesson --bars 9-12 --tempo 80 --level steady -o "bars 9-12.mp3"
"""
FILM_EXAMPLES = """\b
fourlimb film night-ferry.lesson --teach --level steady --bars 1-16
fourlimb film my-song.lesson --song "my song.mp3" --footage camera.mp4 -o lesson.webm
"""
DESK_EXAMPLES = """\b
fourlimb desk
fourlimb desk night-ferry.lesson
fourlimb desk my-song.lesson --song "my song.mp3"
"""
MARK_EXAMPLES = """\b
fourlimb mark "take 1.wav" --lesson night-ferry.lesson
fourlimb mark "take 1.wav" --lesson night-ferry.lesson --level bones --bars 5-12
"""
LEVEL_CHOICE = click.Choice(["full", "steady", "bones"])


class Command(click.Command):
    """Tells who names a file like "-1 take.wav" how to say that it is no option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """As usual, but for files whose names begin with a dash."""
        given = list(args)
        try:
            return super().parse_args(ctx, args)
        except click.UsageError as error:
            dashed = [name for name in given if name.startswith("-") and Path(name).exists()]
            if dashed:
                raise click.UsageError(f"{dashed[0]} begins with a dash: write ./{dashed[0]}", ctx) from error
            raise


class Commands(click.Group):
    """Turns the errors that are meant for people into one line and exit code 1."""

    command_class = Command

    def invoke(self, ctx: click.Context) -> object:
        """Run a command; see the module's exit codes."""
        try:
            with stoppable():
                return super().invoke(ctx)
        except KeyboardInterrupt:
            click.echo(STOPPED, err=True)
            ctx.exit(130)
        except BrokenPipeError:
            ctx.exit(1)
        except Exception as error:
            _only_ours(error)
            click.echo(f"fourlimb: {' '.join(str(error).split())}", err=True)
            ctx.exit(1)


def _only_ours(error: Exception) -> None:
    """Let every error through that is not meant for people."""
    from fourlimb.model import FourlimbError

    if not isinstance(error, FourlimbError):
        raise error


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="fourlimb")
def main() -> None:
    """A recorded song in, a whole drum lesson out.

    fourlimb does the heavy computation and leaves every decision with the teacher. Everything stays on this
    computer. Start with: fourlimb demo
    """


quiet_option = click.option("--quiet", "-q", is_flag=True, help="Say nothing but the result and errors.")
folder_argument = click.argument("lesson", type=click.Path(path_type=Path))


@main.command()
@click.argument("song", type=click.Path(path_type=Path))
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Folder to make [NAME.lesson, here].")
@click.option("--title", help="The song's title [from the file].")
@click.option("--left-handed", is_flag=True, help="The kit and the sticking of a left-handed player.")
@click.option("--kit", "kit_words", default="", metavar="WORDS", help=KIT_HELP)
@click.option("--again", is_flag=True, help="Listen anew to a song that has a lesson; its corrections are kept.")
@quiet_option
def lesson(
    song: Path, output: Path | None, title: str | None, left_handed: bool, kit_words: str, again: bool, quiet: bool
) -> None:
    """Make a lesson of SONG: a recording, the sound of a video, a MIDI performance or a MusicXML part."""
    from fourlimb import lesson as room

    reachable(output or Path("lesson"))
    with told(quiet) as progress:
        folder = room.make(
            song, output, title=title, left_handed=left_handed, kit_words=kit_words, again=again, progress=progress
        )
    _summarise(folder)


@main.command()
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Folder to make [night-ferry.lesson, here].")
@click.option("--again", is_flag=True, help="Make it anew where it is already.")
@quiet_option
def demo(output: Path | None, again: bool, quiet: bool) -> None:
    """The same on the demo song that ships with fourlimb."""
    from fourlimb import lesson as room

    reachable(output or Path("lesson"))
    with told(quiet) as progress:
        folder = room.make_demo(output, again=again, progress=progress)
    _summarise(folder)


@main.command()
@click.argument("song", type=click.Path(path_type=Path))
@click.option("-o", "--output", type=click.Path(path_type=Path), help="File to write [standard output].")
@quiet_option
def listen(song: Path, output: Path | None, quiet: bool) -> None:
    """Only the analysis of SONG, as JSON: grid, hits, sections."""
    from fourlimb import lesson as room
    from fourlimb.model.codec import pretty

    if output is not None:
        reachable(output, makes=False)
    with told(quiet) as progress:
        data = pretty(room.hear_song(song, progress=progress))
    if output is None:
        put(data)
    elif is_device(output):
        pour(data, output)
    else:
        room.write_file(output, data)


@main.command()
@folder_argument
@click.option("--level", type=LEVEL_CHOICE, help="Only this level's chart and sound [all].")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Only print, into this folder; keep nothing.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), help="Paper.")
@click.option("--landscape/--portrait", default=None, help="The long or the short side at the foot.")
@click.option("--large", "size", type=click.Choice(["100", "150", "200"]), help="Large print, per cent.")
@click.option("--bars", type=click.IntRange(0, 8), help="Bars a line; 0 lets the music decide.")
@click.option("--voices", type=click.Choice(["auto", "two", "one"]), help="Stems of hands and feet apart, or shared.")
@click.option("--count/--no-count", default=None, help="The count under the notes.")
@click.option("--counting", help="How it is counted: num-en, eastman, takadimi, kodaly, de, fr, es, pt.")
@click.option("--hands/--no-hands", default=None, help="R and L under the notes.")
@click.option("--cues/--no-cues", default=None, help="Cue words over the notes.")
@click.option("--check-me/--no-check-me", "doubts", default=None, help='"check" where the ears are in doubt.')
@click.option("--difficulty/--no-difficulty", default=None, help="How hard each bar is.")
@click.option("--repeat-signs/--no-repeat-signs", default=None, help="The sign for a bar that is as the one before.")
@click.option("--passages", type=click.Choice(["auto", "folded", "written out"]), help="Passages that come again.")
@click.option("--legend/--no-legend", default=None, help="Where each piece stands, on page one.")
@click.option("--key", help='Where pieces stand: "five-piece", "middle line", or a .toml file of your own.')
@click.option("--rights", multiple=True, help="A line that names writers, recording, owners; may be given again.")
@click.option("--week", type=click.IntRange(1), help="Which week the practice sheet is for, from 1.")
@click.option("--kit", "kit_words", default="", metavar="WORDS", help=KIT_HELP)
@quiet_option
def chart(
    lesson: Path,
    level: str | None,
    output: Path | None,
    size: str | None,
    rights: tuple[str, ...],
    kit_words: str,
    quiet: bool,
    **choices: Any,
) -> None:
    """Arrange and engrave a LESSON anew, with its corrections.

    How it is printed is kept in the lesson: choose once. With -o the choices are for one print only.
    """
    from fourlimb import lesson as room

    choices |= {"size": int(size) if size else None, "rights": rights or None}
    with told(quiet) as progress:
        if output is not None:
            if kit_words:
                raise click.UsageError("--kit changes the lesson itself: leave out -o")
            folder = room.print_to(lesson, output, level=room.level_named(level), progress=progress, **choices)
            put(f"printed into {folder}")
            return
        room.rebuild(lesson, level=room.level_named(level), kit_words=kit_words, progress=progress, **choices)
    _summarise(lesson)


@main.command()
@folder_argument
@click.option("--json", "as_json", is_flag=True, help="The whole lesson.json.")
def show(lesson: Path, as_json: bool) -> None:
    """What is in a LESSON, readable."""
    from fourlimb import lesson as room
    from fourlimb.model.codec import pretty

    found = room.read_lesson(lesson)
    if as_json:
        put(pretty(found))
    else:
        put(room.show(found))


@main.command()
@folder_argument
@click.option("--json", "as_json", is_flag=True, help="The verdict as JSON.")
def check(lesson: Path, as_json: bool) -> None:
    """Can one drummer play a LESSON? The checker's verdict, level by level."""
    from fourlimb import lesson as room

    verdict = room.verdict(room.read_lesson(lesson))
    put(verdict.json() if as_json else verdict.text())


@main.command(epilog=CORRECT_EXAMPLES)
@folder_argument
@click.argument("text", required=False)
@click.option("--undo", is_flag=False, flag_value=0, type=int, help="Take back correction N [the last one].")
@click.option("--redo", type=int, help="Apply correction N again.")
@click.option("--list", "listed", is_flag=True, help="The corrections so far.")
@quiet_option
def correct(lesson: Path, text: str | None, undo: int | None, redo: int | None, listed: bool, quiet: bool) -> None:
    """Correct a LESSON in the words drummers count with, and rebuild it."""
    from fourlimb import lesson as room

    if sum((text is not None, undo is not None, redo is not None, listed)) != 1:
        raise click.UsageError("give one correction, or --undo, --redo N or --list")
    if listed:
        put(room.corrections_text(room.read_lesson(lesson)))
        return
    with told(quiet) as progress:
        said = room.correct(lesson, text, undo=undo, redo=redo, progress=progress)
    put(said)


@main.command(epilog=AIM_EXAMPLES)
@folder_argument
@click.argument("target")
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), default=Path("aimed"), help="Folder to print into [aimed]."
)
@click.option("--level", type=LEVEL_CHOICE, default="full", help="The chart to start from [full].")
def aim(lesson: Path, target: str, output: Path, level: str) -> None:
    """A chart of a LESSON for a target instead of a level; the lesson stays as it is."""
    from fourlimb import lesson as room

    put(room.aim_at(lesson, target, output, level=room.level_named(level) or "full"))


@main.command()
@folder_argument
@click.argument("place")
def why(lesson: Path, place: str) -> None:
    """Why a place is written as it is: fourlimb why LESSON 'bar 41 beat 1'."""
    from fourlimb import lesson as room

    put(room.why(room.read_lesson(lesson), place))


@main.command(epilog=MARK_EXAMPLES)
@click.argument("take", type=click.Path(path_type=Path))
@click.option("--lesson", "folder", type=click.Path(path_type=Path), required=True, help="The lesson's folder.")
@click.option("--level", metavar="LEVEL", help="The chart that was played: full, steady or bones [full].")
@click.option("--bars", metavar="A-B", help="The bars that were to be played [those the take plays].")
@click.option("--json", "as_json", is_flag=True, help="Print the marking as JSON; it is written all the same.")
@quiet_option
def mark(take: Path, folder: Path, level: str | None, bars: str | None, as_json: bool, quiet: bool) -> None:
    """Mark a TAKE, a student's recording or MIDI performance of a lesson's chart.

    Tempo and beginning are found. The marking goes into the lesson's takes/, as a page to read and print and as JSON;
    the take itself is neither copied nor changed. Ask the student, and for a minor a parent or guardian, before you
    record.
    """
    from fourlimb import lesson as room
    from fourlimb.model.codec import pretty

    with told(quiet) as progress:
        marked = room.mark_take(take, folder, level=level, bars=bars, progress=progress)
    if as_json:
        put(pretty(marked.marking))
    else:
        put(room.told(marked))


@main.command(epilog=SLOW_EXAMPLES)
@click.argument("song", type=click.Path(path_type=Path))
@click.option("--lesson", "folder", type=click.Path(path_type=Path), required=True, help="The lesson's folder.")
@click.option("--bars", metavar="A-B", help="The bars to play [all].")
@click.option("--tempo", default="70%", help="Beats a minute, like 92, or a share of the song's, like 80% [70%].")
@click.option("--level", type=LEVEL_CHOICE, help="Play this chart's drums over it [none].")
@click.option("--click", "clicked", is_flag=True, help="Click through all bars, not only before them.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="The file: .mp3, .wav, .flac or .ogg.")
@quiet_option
def slow(
    song: Path, folder: Path, bars: str | None, tempo: str, level: str | None, clicked: bool, output: Path | None,
    quiet: bool,
) -> None:  # fmt: skip
    """Bars of SONG, the recording of a lesson, slowly: counted in, attacks sharp, pitch kept."""
    from fourlimb import lesson as room

    reachable(output or Path("slow.mp3"), makes=False)
    with told(quiet) as progress:
        said = room.slowed(
            song, folder, bars=bars, tempo=tempo, level=room.level_named(level), click=clicked, out=output,
            progress=progress,
        )  # fmt: skip
    put(said)


@main.command(epilog=DESK_EXAMPLES)
@click.argument("lesson", default=".", type=click.Path(path_type=Path))
@click.option("--song", type=click.Path(path_type=Path), help="The LESSON's recording, to hear it [found beside it].")
@click.option("--no-open", is_flag=True, help="Do not open the browser; only print the address.")
def desk(lesson: Path, song: Path | None, no_open: bool) -> None:
    """The desk: a screen in your browser to listen, correct and decide.

    Without LESSON it shows the lessons in this folder. Only this computer can open it, and only by the address it
    prints; nothing is sent anywhere. Ctrl-C closes it.
    """
    from fourlimb import desk as room

    room.serve(room.desk_at(lesson, song), opened=not no_open, say=put)


@main.command(epilog=FILM_EXAMPLES)
@folder_argument
@click.option("--teach", is_flag=True, help="Teach it in running order, slowly first [play it through].")
@click.option("--level", type=LEVEL_CHOICE, default="full", help="The chart to film [full].")
@click.option("--bars", metavar="A-B", help="Only these bars [all].")
@click.option("--tempo", help="Without --teach: beats a minute, 92, or a share of the song's, 80% [100%].")
@click.option("--song", type=click.Path(path_type=Path), help="The recording, to sound under the drums [none].")
@click.option("--click/--no-click", "clicked", default=True, help="Click in all bars, or only before [all].")
@click.option("--footage", type=click.Path(path_type=Path), help="Your own video of it, shown in step [none].")
@click.option("--offset", type=float, help="Second of the footage at which its first bar begins [by its sound].")
@click.option("--own-sound", is_flag=True, help="The footage's sound in place of the drums.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="File, .mp4 or .webm [in LESSON/film].")
@quiet_option
def film(
    lesson: Path, teach: bool, level: str, bars: str | None, tempo: str | None, song: Path | None, clicked: bool,
    footage: Path | None, offset: float | None, own_sound: bool, output: Path | None, quiet: bool,
) -> None:  # fmt: skip
    """A video of a LESSON: moving music, count, click, chapters and captions.

    The song is played through once, as long as it lasts: what a student plays along with. With --teach it is taught:
    every new bar said, slowly, then faster, then joined up; some fifteen times as long as the song.
    """
    from fourlimb import lesson as room

    if output is not None:
        reachable(output, makes=False)
    with told(quiet) as progress:
        said = room.filmed(
            lesson, level=room.level_named(level) or "full", teach=teach, bars=bars, tempo=tempo, song=song,
            click=clicked, footage=footage, offset_s=offset, own_sound=own_sound, out=output, progress=progress,
        )  # fmt: skip
    put(said)


def _summarise(folder: Path) -> None:
    from fourlimb import lesson as room

    put(room.summary(folder, room.read_lesson(folder)))


if __name__ == "__main__":
    main()
