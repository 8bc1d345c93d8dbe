"""What a command may raise: the two ways in which a person, not the program, has to act."""

from collections.abc import Iterable

from bandtrial.words import nearest


class WrongUseError(Exception):
    """The command was asked something it can't be asked; exit 2."""


class StudyProblemsError(Exception):
    """The study can't be used until its problems are mended; exit 1."""


def known_name(kind: str, given: str, known: Iterable[str], where: str) -> str:
    """`given` if it is one of `known`, else WrongUseError naming the nearest and all that there are.

    >>> known_name("machine", "saw1", ["saw1", "saw2"], "study.toml")
    'saw1'
    >>> known_name("machine", "swa1", ["saw1", "saw2"], "toml")
    Traceback (most recent call last):
    bandtrial.commands.errors.WrongUseError: no machine 'swa1' in toml; did you mean 'saw1'? Known: saw1, saw2
    """
    names = sorted(known)
    if given in names:
        return given
    near = nearest(given, names)
    hint = f"; did you mean '{near}'?" if near else "."
    raise WrongUseError(f"no {kind} '{given}' in {where}{hint} Known: {', '.join(names) or 'none'}")
