"""All checks of the rows of cuts, in one place: for a whole log, and for a row before it is saved."""

from bandtrial.study import cut_checks, machine_checks, order_checks, section_checks, toml
from bandtrial.study.problems import Problems
from bandtrial.study.same_names import same_names
from bandtrial.study.settings import Settings
from bandtrial.study.typed import Sheet


def check_cuts(cuts: Sheet, bands: Sheet | None, known: Settings, problems: Problems) -> None:
    """Every problem of the cuts that a single cell does not show. Names written in another case become the known."""
    machine_checks.only_machine(cuts, known)
    same_names(cuts, "machine", known.machines, problems)
    same_names(cuts, "material", known.materials, problems, {name: one.name for name, one in known.materials.items()})
    if bands is not None:
        same_names(cuts, "band", bands.frame["band"], problems)
    cut_checks.numbers_used_twice(cuts, problems)
    cut_checks.numbers_alike(cuts, problems)
    machines = cut_checks.known_names(cuts, "machine", known.machines, known.faulty, toml.FILE, "machine", problems)
    cut_checks.known_names(cuts, "material", known.materials, known.faulty, toml.FILE, "material", problems)
    machine_checks.speeds_known(cuts, known, problems)
    machine_checks.speeds_in_range(cuts, known, machines, problems)
    section_checks.sections_complete(cuts, problems)
    cut_checks.feed_and_time_agree(cuts, problems)
    machine_checks.forces_given(cuts, known, problems)
    machine_checks.machine_limits(cuts, known, problems)
    order_checks.times_in_order(cuts, problems)
    if bands is not None:
        stock_of = dict(zip(bands.frame["band"], bands.frame["stock"], strict=True))
        cut_checks.known_names(cuts, "band", stock_of, frozenset(), bands.file, "band", problems)
        stock = cuts.frame["band"].map(stock_of).to_numpy(object)
        machine_checks.teeth_enough(cuts, known, stock, problems)
        order_checks.bands_agree(cuts, bands, machines, problems)
