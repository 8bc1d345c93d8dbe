"""Save to a study: a cut at a time, whole or not at all; a new study; nothing overwritten.

`appending`  save a cut, take it back, put back     `csvlog`, `xlsxlog`  the log as a writer sees it
`row`        a cut as cells, checked first          `keeping`            lock, previous version, journal
`disk`       durable bytes                          `new`                an empty study
"""

from bandtrial.study.writing.appending import SavedCut, append_cut, forget_cuts, restore_cuts, undo_cut
from bandtrial.study.writing.disk import SaveError
from bandtrial.study.writing.new import new_study
from bandtrial.study.writing.row import defused

__all__ = [
    "SaveError",
    "SavedCut",
    "append_cut",
    "defused",
    "forget_cuts",
    "new_study",
    "restore_cuts",
    "undo_cut",
]
