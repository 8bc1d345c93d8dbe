"""What stands beside the report: its numbers for other programs, CSV that a spreadsheet opens without harm and JSON;
and for who decides a folder of its own, `NAME_summary`, with a page, the same as text for a mail, and the figures
with their numbers, which can be handed on as it is.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import units
from bandtrial.disk import file_name, make_folder, whole
from bandtrial.plots import style
from bandtrial.plots.marks import numbers
from bandtrial.published.tables import CAUTIONS
from bandtrial.recommend.wording import wrapped
from bandtrial.report import data, figures, html, page, words
from bandtrial.report.html import printed
from bandtrial.study.columns import CUTS
from bandtrial.words import defused, json_text, table_text

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.recommend.answer import Recommendation
    from bandtrial.recommend.card_beside import Line
    from bandtrial.report.answers import Answer
    from bandtrial.report.context import Gathered
    from bandtrial.report.figures import Picture

WORKED_OUT = {
    "indicated_band_speed": "speed",
    "published_band_speed": "speed",
    "set_feed_rate": "feed_rate",
    "cut_area": "area",
    "chip_load": "chip_load",
    "contact_minutes": "time",
    "band_length": "length",
}
"""Kinds of quantity of the cut table's columns that no log has."""


def beside(out: Path) -> list[Path]:
    """The files beside the page `out`: NAME_numbers.csv, NAME_bands.csv, NAME_cuts.csv and NAME.json."""
    tables = [out.with_name(f"{out.stem}_{what}.csv") for what in ("numbers", "bands", "cuts")]
    return [*tables, out.with_suffix(".json")]


def fill(g: Gathered, numbers: Path, bands: Path, cuts: Path, everything: Path) -> None:
    """Write the numbers, bands and cuts as CSV, and everything as JSON, into these files."""
    numbers.write_bytes(as_csv(*number_rows(g)).encode(errors="replace"))
    write_table(band_rows(g), bands)
    write_table(cut_rows(g), cuts)
    everything.write_bytes(as_json(summary(g)).encode(errors="replace"))


def as_csv(heads: list[str], rows: list[list[Any]]) -> str:
    """A table as CSV; texts that a spreadsheet would run as a formula are defused."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([defused(head) for head in heads])
    writer.writerows([[_cell(cell) for cell in row] for row in rows])
    return out.getvalue()


def write_table(table: pd.DataFrame, out: Path, at_once: int = 50_000) -> None:
    """Write a DataFrame as `as_csv` would, some rows at a time: a long log is never whole in memory as text."""
    table = table.rename(columns=defused)
    with out.open("w", encoding="utf-8", errors="replace", newline="") as file:
        for start in range(0, max(len(table), 1), at_once):
            part = table.iloc[start : start + at_once]
            plain = part.assign(**{name: _plain_cells(part[name]) for name in part.columns})
            plain.to_csv(file, index=False, header=start == 0, lineterminator="\n", na_rep="")


def _plain_cells(column: Any) -> Any:
    """A column with its times as texts to the minute and its texts defused, each different one once."""
    if column.dtype.kind == "M":
        when = np.datetime_as_string(column.to_numpy(), unit="m").astype(object)
        return np.where(column.isna(), None, when)
    if column.dtype.kind in "biuf":
        return column.replace([np.inf, -np.inf], np.nan) if column.dtype.kind == "f" else column
    return column.map({cell: _cell(cell) for cell in column.unique()})


def _cell(cell: Any) -> Any:
    """A cell as a spreadsheet may open it: nothing for a number that is not known, no formula."""
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return ""
    return defused(cell) if isinstance(cell, str) else cell


def number_rows(g: Gathered) -> tuple[list[str], list[list[Any]]]:
    """Every number of the report in inside units: section, of what, name, value, low, high, unit."""
    heads = ["section", "of", "name", "value", "low", "high", "unit"]
    rows: list[list[Any]] = []
    for name, row in g.fit.parameters.iterrows() if g.fit else ():
        rows.append(["parameters", "", str(name), row["estimate"], row["low"], row["high"], row["unit"]])
    for a in g.answers:
        if a.recommendation:
            job = f"{a.machine} / {a.stock} / {a.material} / {a.thickness:g} mm"
            rows += [["recommendation", job, *line] for line in _recommended(a.recommendation, g.study.currency)]
    for b in g.watch.bands if g.watch else ():
        rows.append(["watch", b.band, "wear_used", b.wear_used, b.wear_used_low, b.wear_used_high, ""])
        left = (b.pieces_left, b.pieces_left_low, b.pieces_left_high)
        rows.append(["watch", b.band, "pieces_left", *left, "pieces"])
        rows.append(["watch", b.band, "next_piece_finishes", b.next_finishes, "", "", ""])
    return heads, rows


def _recommended(r: Recommendation, currency: str) -> Iterator[Any]:
    given = r.to_json()
    units = {"band_speed_m_min": "m/min", "cutting_rate_cm2_min": "cm2/min", "band_life_cm2": "cm2",
             "cost_per_cm2": f"{currency}/cm2"}  # fmt: skip
    for key, value in given.items():
        if isinstance(value, int | float) and not key.endswith(("_low", "_high")):
            low, high = given.get(f"{key}_low", ""), given.get(f"{key}_high", "")
            yield [key, value, low, high, units.get(key, "")]


def cut_rows(g: Gathered) -> pd.DataFrame:
    """The cut table as it is reckoned with, inside units in the heads, and why a cut is left out of the fit."""
    table: pd.DataFrame = g.cuts.assign(left_out=g.why_left_out)
    kinds = {column.name: column.kind for column in CUTS if column.is_quantity} | WORKED_OUT
    return table.rename(
        columns={name: f"{name} [{units.KINDS[kinds[name]]}]" for name in table.columns if name in kinds}
    )


def band_rows(g: Gathered) -> pd.DataFrame:
    """What each band did and, where there is a fit, the wear it has used with its 80 % interval."""
    done: pd.DataFrame = data.work_of_bands(g.cuts, g.bands)
    done = done.rename(columns={"minutes": "minutes sawn [min]", "area": "area sawn [cm2]"})
    if g.fit is None:
        return done
    used = g.fit.wear_used().set_index("band").reindex(done["band"]).reset_index(drop=True)
    return done.assign(wear_used=used["median"], wear_used_low=used["low"], wear_used_high=used["high"])


def summary(g: Gathered) -> dict[str, Any]:
    """Everything as one JSON object, keys of the command's own answers."""
    return {
        "cautions": list(CAUTIONS),
        "study": g.study.info,
        "data_sha256": html.data_hash(g.study.path),
        "versions": html.versions(),
        "fit": g.fit.to_json() if g.fit else None,
        "no_fit": g.no_fit or None,
        "compare": g.comparison.to_json() if g.comparison else None,
        "jobs": [_job(a) for a in g.answers],
        "watch": g.watch.to_json() if g.watch else None,
    }


def _job(a: Answer) -> dict[str, Any]:
    known = {**a.names, "work_thickness_mm": a.thickness, "cuts": a.cuts}
    return known | {
        "recommendation": a.recommendation.to_json() if a.recommendation else None,
        "not_yet": a.not_yet or None,
        "would_help": list(a.would_help),
        "plan": a.plan.to_json() if a.plan else None,
    }


def as_json(value: Any) -> str:
    """Strict JSON with sorted keys."""
    return json_text(value, indent=1, sort_keys=True) + "\n"


NOT_HERE = ("published", "harder")
"""Lines of the card that nobody needs who decides and pays; the report has them."""
PAGE, MAIL = "summary.html", "mail.txt"


def write_summary(g: Gathered, report: Path, made: str, pdf: bool = False) -> Path:
    """Write the summary of the first job that the study asks about, its mail and its figures, into the folder beside
    the page `report`; a PDF of the page too if asked. Returns the page's path.

    Raises pdf.NoBrowser, and disk.NotWrittenError, when nothing was written.
    """
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
        files[file_name(name, ".csv")] = as_csv(*numbers(one.figure)).encode(errors="replace")
    with whole(*(folder / name for name in files)) as spares:
        for spare, content in zip(spares, files.values(), strict=True):
            spare.write_bytes(content)
    return printed(folder / PAGE, pdf)


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
        "job": words.title(g.study, answer) if answer else "no job is named yet",
        "status": found.head if found else "",
        "card": [line for line in card if line.key not in NOT_HERE],
        "say": [] if found or answer is None else [words.not_yet(answer), *words.would_help(answer)],
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
