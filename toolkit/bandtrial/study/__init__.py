"""A study: a folder with what the shop has, which bands it fitted and which cuts it made.

`problems`   what is wrong, in sentences         `model`      machine, band stock, material, study
`columns`    the columns of the two tables       `files`      a folder's files, and the journal of saved cuts
`csvfile`, `workbook`   tables as they lie in their files
`typed`, `cells`, `toml`, `settings`   values in inside units
`cut_checks`, `shop_checks`   what must agree with what
`plausible`  each entry against physics and the shop's own cuts
`reading`    open and check                      `tables`     the cut table and the band table
`matching`   tables with heads of their own      `draft`      a cut before it is saved
`writing`    save a cut, a new study; undo       `editing`    changes as people ask for them
"""

from bandtrial.study.model import BandStock, Machine, Material, Study
from bandtrial.study.problems import Problem, SaveError, StudyError
from bandtrial.study.reading import check, open_study
from bandtrial.study.tables import band_table, cut_table, weld_table
from bandtrial.study.writing.appending import append_cut, append_cuts, forget_cuts, restore_cuts, undo_cut
from bandtrial.study.writing.new import new_study
from bandtrial.study.writing.row import SavedCut
from bandtrial.words import defused

__all__ = [
    "BandStock", "Machine", "Material", "Problem", "SaveError", "SavedCut", "Study", "StudyError", "append_cut",
    "append_cuts", "band_table", "check", "cut_table", "defused", "forget_cuts", "new_study", "open_study",
    "restore_cuts", "undo_cut", "weld_table",
]  # fmt: skip
