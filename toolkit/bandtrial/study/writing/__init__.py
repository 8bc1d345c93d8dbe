"""Save to a study: a cut at a time, whole or not at all; a new study; nothing overwritten.

`appending`  save cuts, take back, put back     `csvsave`, `xlsxlog`  the same for each kind of log
`csvlog`     a CSV log as its writer sees it    `saved`, `row`        cuts as rows, checked first
`keeping`    lock, previous version, journal    `new`                 an empty study
`changing`   a change, looked at, then made     `history`             what can be undone and done again
`tablerows`, `tomltext`  rows of a table, values of study.toml, changed in place

Bytes reach the disk by `bandtrial.disk`.
"""

from bandtrial.study.problems import SaveError
from bandtrial.study.writing.appending import append_cut, append_cuts, forget_cuts, restore_cuts, undo_cut
from bandtrial.study.writing.new import new_study
from bandtrial.study.writing.row import defused
from bandtrial.study.writing.saved import SavedCut

__all__ = [
    "SaveError",
    "SavedCut",
    "append_cut",
    "append_cuts",
    "defused",
    "forget_cuts",
    "new_study",
    "restore_cuts",
    "undo_cut",
]
