"""`write_report`: the study report as one page that asks no other machine for anything."""

from __future__ import annotations

import datetime
from pathlib import Path

from bandtrial.report import page


def write_report(study_path, out, pdf=False, made: str | None = None) -> Path:
    """Write the report of a study folder to `out` (HTML), its numbers beside it, and a PDF if asked.

    study_path : the study's folder; out : the HTML file; pdf : print it to `out` with .pdf as well
    made : the date on the page, today's by default; all else is the same each time

    Returns the path of the HTML file. Raises study.StudyError, wear.FitError, pdf.NoBrowser, and
    disk.NotWrittenError, when nothing was written.
    """
    from bandtrial.disk import whole
    from bandtrial.report import context, export, provenance
    from bandtrial.report.pdf import print_pdf
    from bandtrial.study import open_study

    out = Path(out)
    study = open_study(study_path)
    g = context.gather(study)
    beside = export.beside(out)
    names = ", ".join(path.name for path in beside)
    command = provenance.command(study_path, out, pdf)
    fields = context.page_fields(g, made or datetime.date.today().isoformat(), command, names)
    css = page.style("report.css")
    text = page.render("report.html", css=css, paper=page.PAPER[study.units], **fields)
    with whole(*beside, out) as (*numbers, html):
        export.fill(g, *numbers)
        html.write_bytes(text.lstrip().encode(errors="replace"))
    if pdf:
        print_pdf(out, out.with_suffix(".pdf"))
    return out
