"""For who decides: one page with the answer, the same as text for a mail, and the figures with their numbers.

They go into a folder of their own beside the report, `NAME_summary`, which can be handed on as it is.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial.disk import file_name, make_folder, whole
from bandtrial.plots import style
from bandtrial.plots.marks import numbers
from bandtrial.recommend.wording import wrapped
from bandtrial.report import export, figures, job_words, page, words
from bandtrial.words import table_text

if TYPE_CHECKING:
    from bandtrial.recommend.card_numbers import Line
    from bandtrial.report.answers import Answer
    from bandtrial.report.context import Gathered
    from bandtrial.report.figures import Picture

NOT_HERE = ("published", "harder")
"""Lines of the card that nobody needs who decides and pays; the report has them."""
PAGE, MAIL = "summary.html", "mail.txt"


def write_summary(g: Gathered, report: Path, made: str, pdf: bool = False) -> Path:
    """Write the summary of the first job that the study asks about, its mail and its figures, into the folder beside
    the page `report`; a PDF of the page too if asked. Returns the page's path.

    Raises pdf.NoBrowser, and disk.NotWrittenError, when nothing was written.
    """
    from bandtrial.report.html import print_pdf

    folder = make_folder(report.with_name(f"{report.stem}_summary"))
    answer = next((one for one in g.answers if one.recommendation), g.answers[0] if g.answers else None)
    pictures = _pictures(g, answer)
    fields = summary_fields(g, answer, pictures) | {"made": made, "report": report.name}
    css = page.style("card.css", "sheet.css")
    files = {
        PAGE: page.render("summary.html", css=css, paper=page.PAPER[g.study.units], **fields).encode(errors="replace"),
        MAIL: mail(fields).encode(errors="replace"),
    }
    for one in pictures:
        name = one.title.lower().replace(" ", "_")
        files[file_name(name, ".svg")] = style.svg(one.figure)[0].encode()
        files[file_name(name, ".png")] = style.png(one.figure)
        files[file_name(name, ".csv")] = export.as_csv(*numbers(one.figure)).encode(errors="replace")
    with whole(*(folder / name for name in files)) as spares:
        for spare, content in zip(spares, files.values(), strict=True):
            spare.write_bytes(content)
    if pdf:
        print_pdf(folder / PAGE, (folder / PAGE).with_suffix(".pdf"))
    return folder / PAGE


def _pictures(g: Gathered, answer: Answer | None) -> list[Picture]:
    """The figures of the answer, the cost first; the cutting rates of the log where there is no answer yet."""
    if answer is None or answer.recommendation is None:
        made = [figures.rate(g.study, g.cuts)]
    else:
        job = (g.fit, g.study, answer)
        made = [figures.cost(*job), figures.life(*job), figures.curve(g.study, answer), figures.rate(g.study, g.cuts)]
    return [one for one in made if one is not None]


def summary_fields(g: Gathered, answer: Answer | None, pictures: list[Picture]) -> dict[str, Any]:
    """Every field of templates/summary.html but the date and the report's name."""
    info, found = g.study.info, answer.recommendation if answer else None
    card: list[Line] = found.card_lines(answer.plan) if found and answer else []
    return {
        "title": g.study.name,
        "author": str(info.get("author") or "an author not named in study.toml"),
        "question": str(info.get("question") or "no question is written in study.toml"),
        "job": job_words.title(g.study, answer) if answer else "no job is named yet",
        "status": found.head if found else "",
        "card": [line for line in card if line.key not in NOT_HERE],
        "say": [] if found or answer is None else [job_words.not_yet(answer), *job_words.would_help(answer)],
        "picture": pictures[0] if pictures else None,
        "cautions": words.cautions(g.study),
    }


def mail(fields: dict[str, Any]) -> str:
    """The page as plain text that can be pasted into a mail."""
    lines = [f"{fields['title']}: {fields['job']}", "", *wrapped("Question:", fields["question"]), ""]
    lines += [*wrapped("Before you cut:", " ".join(fields["cautions"])), ""]
    lines += [fields["status"]] if fields["status"] else []
    for line in fields["card"]:
        lines += [f"{line.label}:", *table_text(line.rows)] if line.rows else wrapped(f"{line.label}:", line.text)
    for text in fields["say"]:
        lines += wrapped("-", text)
    end = f"Written by {fields['author']}, {fields['made']}. All of it, with the doubts: {fields['report']}."
    return "\n".join([*lines, "", *wrapped("", end), ""])
