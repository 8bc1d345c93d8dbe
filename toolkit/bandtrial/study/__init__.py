"""A study: a folder with what the shop has, which bands it fitted and which cuts it made.

`problems`   what is wrong, in sentences         `model`      machine, band stock, material, study
`columns`    the columns of the two tables       `files`      a folder's files, and the journal of saved cuts
`csvfile`, `workbook`, `rawtable`                tables as they lie in their files
`typed`, `quantities`, `dates`, `toml`, `settings`   values in inside units
`cut_checks`, `machine_checks`, `band_checks`    what must agree with what
`matching`   tables with heads of their own      `draft`      a cut before it is saved
`plausible`  each entry against physics and the shop's own cuts
`reading`    open and check                      `tables`     the cut table and the band table
`sections`   plate, round, tube                  `writing`    save a cut, a new study, a change; undo
`editing`    changes as people ask for them
"""

from bandtrial.study.model import BandStock, Machine, Material, Study
from bandtrial.study.problems import Problem, StudyError
from bandtrial.study.reading import check, open_study
from bandtrial.study.tables import band_table, cut_table, weld_table
from bandtrial.study.writing import (
    SavedCut,
    SaveError,
    append_cut,
    append_cuts,
    defused,
    forget_cuts,
    new_study,
    restore_cuts,
    undo_cut,
)

__all__ = [
    "BandStock",
    "Machine",
    "Material",
    "Problem",
    "SaveError",
    "SavedCut",
    "Study",
    "StudyError",
    "append_cut",
    "append_cuts",
    "band_table",
    "check",
    "cut_table",
    "defused",
    "forget_cuts",
    "new_study",
    "open_study",
    "restore_cuts",
    "undo_cut",
    "weld_table",
]
