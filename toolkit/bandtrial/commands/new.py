"""A new study: empty with commented templates, or filled in by options or answers."""

import argparse
import sys
from collections.abc import Mapping
from datetime import date
from typing import Any

from bandtrial.asked import FORMS, Asked, answers
from bandtrial.commands.options import WrongUseError

EMPTY = ("{folder}: an empty study; fill in study.toml and bands.csv, log cuts in cuts.csv, "
         "then `bandtrial check {folder}`")  # fmt: skip
NAMED = {"machines": "machine", "band_stock": "stock", "materials": "material"}
"""Tables with names of the shop's own, and the options that take these."""
OPTIONS = {("materials", "name"): "material-name", ("band_stock", "thickness"): "band-thickness",
           ("band_stock", "width"): "band-width"}  # fmt: skip
"""What an option is called where the name alone would not say what it means."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options for everything that may be asked of a shop."""
    parser.add_argument("folder", metavar="FOLDER", help="a folder that does not exist yet, or is empty")
    parser.add_argument("--empty", action="store_true", help="ask nothing, though at a terminal")
    for table, form in FORMS.items():
        group = parser.add_argument_group(table.replace("_", " "))
        if table in NAMED:
            group.add_argument(f"--{NAMED[table]}", metavar="NAME", help="a name of your own for it")
        for asked in form:
            group.add_argument(f"--{option(table, asked.name)}", metavar="X", help=_hint(asked, "us"),
                               choices=asked.choices or None)  # fmt: skip
    group = parser.add_argument_group("band")
    group.add_argument("--band", metavar="NAME", help="the band on the machine: the name written on it")
    group.add_argument("--fitted", metavar="DATE", help="as 2026-03-02; today unless said")


def run(args: argparse.Namespace) -> int:
    """Make an empty study, or one of what was given or answered. Raises `WrongUseError`."""
    from bandtrial import study

    given = {(table, one.name): value for table, form in FORMS.items() for one in form
             if (value := getattr(args, option(table, one.name).replace("-", "_"))) is not None}  # fmt: skip
    names = {table: getattr(args, word) or "" for table, word in NAMED.items()}
    band = {"band": args.band or "", "fitted": args.fitted or ""}
    ask = not (args.empty or given or any(names.values()) or args.band) and sys.stdin.isatty() and sys.stdout.isatty()
    if ask:
        given, names, band = _asked()
    try:
        study.new_study(args.folder, _system(given), _tables(given, names), _bands(band, names))
    except study.SaveError as error:
        raise WrongUseError(str(error)) from None
    except study.StudyError as error:
        raise WrongUseError("\n".join(map(_in_options, error.problems)) + "\nNothing was written.") from None
    print(_done(args.folder) if given else EMPTY.format(folder=args.folder))
    return 0


def _system(given: Mapping[tuple[str, str], str]) -> str:
    return "metric" if given.get(("study", "units")) == "metric" else "us"


def option(table: str, name: str) -> str:
    """The option for one thing that is asked, without its dashes."""
    return OPTIONS.get((table, name), name.replace("_", "-"))


def _hint(asked: Asked, system: str) -> str:
    """What an option or question takes."""
    hint = f"{asked.words}: {', '.join(asked.choices)}" if asked.choices else asked.words
    return hint + (f", as {asked.example(system)}" if asked.example(system) else "")


def _tables(given: Mapping[tuple[str, str], str], names: Mapping[str, str]) -> dict[tuple[str, ...], dict[str, Any]]:
    """The tables of study.toml that something was said of; WrongUseError where one lacks its name."""
    system, tables = _system(given), dict[tuple[str, ...], dict[str, Any]]()
    for table in FORMS:
        typed = {name: value for (of, name), value in given.items() if of == table}
        if table not in NAMED:
            tables |= {(table,): answers(table, typed, system)} if typed else dict[tuple[str, ...], dict[str, Any]]()
        elif names[table]:
            tables[table, names[table]] = answers(table, typed, system)
        elif typed:
            first = option(table, next(iter(typed)))
            raise WrongUseError(f"--{first}: of which {NAMED[table]}? Name it with --{NAMED[table]} NAME")
    return tables


def _bands(band: Mapping[str, str], names: Mapping[str, str]) -> list[dict[str, str]]:
    if not band["band"]:
        return []
    if not names["machines"] or not names["band_stock"]:
        raise WrongUseError("--band: say what it is and where it runs, with --stock NAME and --machine NAME")
    on = {"stock": names["band_stock"], "machine": names["machines"]}
    return [{**band, **on, "fitted": band["fitted"] or date.today().isoformat()}]


def _in_options(problem: object) -> str:
    """A problem of a new study in the words of the command."""
    file, column, message = (getattr(problem, name) for name in ("file", "column", "message"))
    if file.endswith(".toml"):
        table, _, rest = str(column).partition(".")
        name = rest.rpartition(".")[2].replace("band_speed_ranges", "band_speeds")
        as_asked = next((one.example("us") for one in FORMS.get(table, ()) if one.name == name), "")
        message = f"write it as {as_asked}" if message.startswith("should be pairs") and as_asked else message
        return f"--{option(table, name)}: {message}" if name else str(problem)
    return f"--{'fitted' if column == 'fitted' else 'band'}: {message}"


def _asked() -> tuple[dict[tuple[str, str], str], dict[str, str], dict[str, str]]:
    """Ask at the terminal what the options take; an empty answer leaves a thing for later."""
    print("Press Enter alone to leave something for later; Ctrl+C ends it with nothing written.")
    given: dict[tuple[str, str], str] = {}
    names = dict.fromkeys(NAMED, "")
    for table in ("study", *NAMED, "costs"):
        if table in NAMED and not names.setdefault(table, ""):
            names[table] = _answer(f"{NAMED[table]}, a name of your own")
            if not names[table]:
                continue
        _ask_table(table, FORMS[table], given, names)
    on_machine = names["machines"] and names["band_stock"]
    band = _answer("band on the machine, the name written on it") if on_machine else ""
    return given, names, {"band": band, "fitted": ""}


def _ask_table(
    table: str, form: tuple[Asked, ...], given: dict[tuple[str, str], str], names: Mapping[str, str]
) -> None:
    """Ask for a table until what was answered can be right."""
    from bandtrial.study.writing.new import wrong_in

    left = list(form)
    while left:
        system = _system(given)
        for asked in left:
            fits = not asked.feeds or given.get((table, "feed")) in asked.feeds
            if fits and (answer := _answer(_hint(asked, system))):
                given[table, asked.name] = answer
            elif fits:
                given.pop((table, asked.name), None)
        only = {key: value for key, value in given.items() if key[0] in ("study", table)}
        tables = _tables(only, {**dict.fromkeys(NAMED, ""), table: names.get(table, "")})
        problems = wrong_in(tables)
        print("".join(f"  {_in_options(one)}\n" for one in problems), end="")
        again = {str(one.column).rpartition(".")[2].replace("band_speed_ranges", "band_speeds") for one in problems}
        left = [asked for asked in form if asked.name in again]


def _answer(question: str) -> str:
    try:
        return input(f"{question}: ").strip()
    except EOFError:
        return ""


NEXT = "Log cuts in notebook 3, or in cuts.csv; give it further materials there, or in study.toml."


def _done(folder: str) -> str:
    """What stands in a study that was filled in, and what it still lacks."""
    from bandtrial import study

    errors = [one for one in study.check(folder) if one.severity == "error"]
    lacks = ", ".join(str(one.column) for one in errors) or "nothing"
    return f"{folder}: a new study; it lacks: {lacks}. {NEXT}"
