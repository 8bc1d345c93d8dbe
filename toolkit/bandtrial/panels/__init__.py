"""Controls for notebooks, one panel for each question; each is a function that returns one widget.

`session`       places of studies and saved files, plain errors, work to watch and stop, a copy to try things on
`starting`      published starting settings as material, thickness, edge and coolant are chosen
`desk`          a study changed without its files: what the shop has, bands, cuts, undo
`log_form`      a form that checks each cut while it is typed and saves it at once
`entry_form`    what the shop has; cuts from another table, its columns matched, its problems shown before any is added
`fit_views`     a fit looked at from all sides; bands in service: what is left, and whether something has changed
`setting_choice`  the setting for a job as its wishes change; which cuts to make next; their sheets
"""

from bandtrial.panels.desk import study_desk
from bandtrial.panels.entry_form import import_table
from bandtrial.panels.fit_views import check_fit, watch_bands
from bandtrial.panels.log_form import log_cuts
from bandtrial.panels.session import main_job, plain_errors, practice_copy, study_folder, working
from bandtrial.panels.setting_choice import choose_setting, plan_trials
from bandtrial.panels.starting import starting_settings

__all__ = [
    "check_fit", "choose_setting", "import_table", "log_cuts", "main_job", "plain_errors", "plan_trials",
    "practice_copy", "starting_settings", "study_desk", "study_folder", "watch_bands", "working",
]  # fmt: skip
