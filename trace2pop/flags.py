"""Every command with its flags, read by typer."""

import inspect
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Annotated, Any

import typer

from trace2pop import __version__
from trace2pop.choices import choices, describe_range
from trace2pop.console import Console
from trace2pop.model.settings import Settings

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="From a drawn motif to a cut-ready floating-layer pop-up card.",
)

Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Print errors only.")]
Verbose = Annotated[bool, typer.Option("--verbose", "-v", help="Print details too.")]


def with_choices(*sections: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command an option for every choice of ``sections``, passed on as ``options``."""

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        rows = [row for row in choices() if row[0] in sections and row[2].option]
        names = {choice.option.replace("-", "_"): choice for _, _, choice in rows}
        own = [
            item
            for item in inspect.signature(command, eval_str=True).parameters.values()
            if item.name != "options"
        ]
        added = []
        for section, _, choice in rows:
            flag = choice.form == "flag"
            declared = f"--{choice.option}/--no-{choice.option}" if flag else f"--{choice.option}"
            many = choice.form == "rows"
            option = typer.Option(
                declared,
                help=f"{choice.text} ({describe_range(choice)})",
                metavar=None if flag else "N=WHAT" if many else choice.form.upper(),
                rich_help_panel=section,
            )
            kind: Any = bool | None if flag else list[str] | None if many else str | None
            added.append(
                inspect.Parameter(
                    choice.option.replace("-", "_"),
                    inspect.Parameter.KEYWORD_ONLY,
                    default=None,
                    annotation=Annotated[kind, option],
                )
            )

        def wrapper(**given: Any) -> None:
            options = {
                names[key].option: value
                for key, value in given.items()
                if key in names and value is not None
            }
            rest = {key: value for key, value in given.items() if key not in names}
            command(**rest, options=options)

        parameters = [item.replace(kind=inspect.Parameter.KEYWORD_ONLY) for item in own] + added
        wrapper.__name__ = command.__name__
        wrapper.__doc__ = command.__doc__
        wrapper.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]  # read by typer
        wrapper.__annotations__ = {item.name: item.annotation for item in parameters}
        return wrapper

    return decorate


ALL = tuple(section.name for section in fields(Settings))


@app.callback(invoke_without_command=True)
def about(
    version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False,
) -> None:
    """Print the version where asked for."""
    if version:
        print(f"trace2pop {__version__}")
        raise typer.Exit


@app.command()
@with_choices(*ALL)
def make(
    picture: Annotated[Path, typer.Argument(help="A photo, scan or drawing, or a card.toml.")],
    options: dict[str, object],
    out: Annotated[Path | None, typer.Option("--out", help="The folder to make.")] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Write into a folder that exists.")
    ] = False,
    fresh: Annotated[
        bool, typer.Option("--fresh", help="Make every stage anew; keep none for the next run.")
    ] = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Make a card: picture in, cut sheets and assembly guide out."""
    from trace2pop.commands.make import make as run

    console = _console(quiet, verbose)
    run(picture, out, options, force=force, console=console, keep=not fresh)


@app.command()
@with_choices(*ALL)
def batch(
    folder: Annotated[Path, typer.Argument(help="The folder your drawings are in.")],
    options: dict[str, object],
    out: Annotated[Path, typer.Option("--out", help="The folder for the cards.")],
    workers: Annotated[
        int | None,
        typer.Option("--workers", min=1, help="Cards made at once; all cores if absent."),
    ] = None,
    scheduler: Annotated[
        str | None, typer.Option("--scheduler", help="Address of a Dask scheduler, tcp://...")
    ] = None,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Make a card of every picture and every card.toml in a folder."""
    from trace2pop.commands.batch import batch as run

    console = _console(quiet, verbose)
    run(folder, out, options, workers=workers, scheduler=scheduler, console=console)


@app.command()
@with_choices(*ALL)
def sizes(
    options: dict[str, object],
    picture: Annotated[Path | None, typer.Argument(help="A picture, if there is one.")] = None,
    verbose: Verbose = False,
) -> None:
    """Show what fits: rise against size, for any motif or one; for a fixed size, the card."""
    from trace2pop.commands.sizes import sizes as run

    run(picture, options, _console(False, verbose))


@app.command()
@with_choices("picture", "trace")
def trace(
    picture: Annotated[Path, typer.Argument(help="A photo, scan or drawing.")],
    options: dict[str, object],
    out: Annotated[Path, typer.Option("--out", help="The folder to make.")],
    in_place: Annotated[
        bool,
        typer.Option(
            "--in-place", help="Outline where it lies on its sheet, to cut printed paper."
        ),
    ] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Write into a folder that exists.")
    ] = False,
    verbose: Verbose = False,
) -> None:
    """Trace the motif without making a card: its outline, and a picture to check it by."""
    from trace2pop.commands.trace import trace as run

    console = _console(False, verbose)
    run(picture, out, options, in_place=in_place, force=force, console=console)


@app.command()
def frame(
    out: Annotated[Path, typer.Option("--out", help="The PDF to write.")],
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter")] = "letter",
    force: Annotated[bool, typer.Option("--force", help="Replace a file that exists.")] = False,
    verbose: Verbose = False,
) -> None:
    """Print a frame to photograph art in: its markers give true millimetres."""
    from trace2pop.commands.frame import frame as run

    run(out, paper, force=force, console=_console(False, verbose))


@app.command()
@with_choices("card", "supports", "stock", "pieces", "cutter", "guide")
def mockup(
    options: dict[str, object],
    out: Annotated[Path, typer.Option("--out", help="The folder to make.")],
    force: Annotated[
        bool, typer.Option("--force", help="Write into a folder that exists.")
    ] = False,
    verbose: Verbose = False,
) -> None:
    """Make the white mock-up of a card and a rise, before there is a motif."""
    from trace2pop.commands.mockup import mockup as run

    run(out, options, force=force, console=_console(False, verbose))


@app.command()
def check(
    folder: Annotated[Path, typer.Argument(help="A folder that make wrote.")],
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Judge a card's folder from its files alone."""
    from trace2pop.commands.check import check_folder

    check_folder(folder, _console(quiet, verbose))


@app.command("list")
def list_(
    table: Annotated[str, typer.Argument(help="stocks, cards, envelopes or cutters")],
    settings: Annotated[
        Path | None, typer.Argument(help="A card.toml: your own papers and cutter are listed too.")
    ] = None,
    verbose: Verbose = False,
) -> None:
    """List the papers, card sizes, envelopes or cutters the program knows."""
    from trace2pop.commands.tables import TABLES, list_table
    from trace2pop.errors import UsageError
    from trace2pop.settings import read

    if table not in TABLES:
        raise UsageError(f"there is no list of {table}", f"name one of {', '.join(TABLES)}")
    list_table(table, _console(False, verbose), read(settings).settings if settings else None)


@app.command()
def compare(
    first: Annotated[Path, typer.Argument(help="A card's folder.", metavar="A")],
    second: Annotated[Path, typer.Argument(help="Another one.", metavar="B")],
    out: Annotated[
        Path | None, typer.Option("--out", help="The PNG to write; A-B.png here if absent.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that exists.")] = False,
    verbose: Verbose = False,
) -> None:
    """Show what differs between two cards, in numbers and in one picture."""
    from trace2pop.commands.compare import compare as run

    run(first, second, out, force=force, console=_console(False, verbose))


@app.command()
def explain(
    finding: Annotated[str | None, typer.Argument(help="A finding's name, such as weak.")] = None,
    verbose: Verbose = False,
) -> None:
    """Explain a finding: what it means, why the limit, how to get past it."""
    from trace2pop.commands.explain import explain as run

    run(finding, _console(False, verbose))


def _console(quiet: bool, verbose: bool) -> Console:
    return Console(-1 if quiet else int(verbose))
