"""The study report, the setup sheet, and the comparison of two studies.

`answers`   what the study is asked               `context`    everything the page says, gathered once
`data`, `fit_words`, `words`     numbers and tables in words
`figures`   pictures                              `page`       templates, everything escaped
`sheet`     the setup sheet                       `watch_sheet`  the bands in service on a page
`change`    two studies compared
`html`      pages written and printed; what they come from: hash, versions, command
`export`    CSV and JSON; a page for who decides, its mail and figures
"""

from bandtrial.report.change import Change, change
from bandtrial.report.html import NoBrowser, write_change, write_report
from bandtrial.report.sheet import write_sheet
from bandtrial.report.watch_sheet import write_watch_sheet

__all__ = ["Change", "NoBrowser", "change", "write_change", "write_report", "write_sheet", "write_watch_sheet"]
