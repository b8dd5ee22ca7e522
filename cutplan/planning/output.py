"""A plan's files put into its folder, all or nothing."""

from __future__ import annotations

from pathlib import Path

from cutplan.planning.standing import put_in_place, refuse_alike, refuse_another
from cutplan.record import Plan, joints_of, plan_json
from cutplan.report import (
    Paper,
    batch_html,
    bending_html,
    bending_pdf,
    cut_list_csv,
    cut_list_xlsx,
    joints_csv,
    joints_html,
    labels_html,
    labels_pdf,
    plate_svg,
    setup_sheet_html,
    setup_sheet_pdf,
    sorting_csv,
    sorting_html,
    write_nest_dxf,
)

__all__ = ["write_files"]


def write_files(plan: Plan, out: Path, *, paper: Paper | None = None, replace: bool = False) -> list[str]:
    """Put a plan's files into a folder, all or nothing; returns their names.

    With a `paper`, the setup sheets, the bend tables and the labels are written as PDF too; with `replace`, the
    plan of another job, and files changed by hand, may go.

    Parameters
    ----------
    plan : Plan
    out : Path
        Folder into which the plan is written.
    paper : Paper, optional
        Write setup sheets, bend tables and labels as PDF too.
    replace : bool, optional
        Another job's plan, and files changed by hand, may go.

    Returns
    -------
    list of str
        The names of the files.
    """
    refuse_another(out, plan.job, replace=replace)
    texts = _texts(plan)
    refuse_alike([*(name for name, _ in texts), *(f"{sheet.name}.dxf" for sheet in plan.sheets)])
    files = {name: text.encode() for name, text in texts}
    files["cut-list.xlsx"] = cut_list_xlsx(plan)
    if paper is not None:
        if plan.bending:
            files["bending.pdf"] = bending_pdf(plan, paper=paper)
        files["labels.pdf"] = labels_pdf(plan, paper=paper)
        for sheet in plan.sheets:
            files[f"{sheet.name}.pdf"] = setup_sheet_pdf(sheet, plan, paper=paper)

    def write(folder: Path) -> None:
        for name, content in files.items():
            (folder / name).write_bytes(content)
        for sheet in plan.sheets:
            write_nest_dxf(folder / f"{sheet.name}.dxf", sheet)

    return put_in_place(out, write, lambda digests: plan_json(plan, digests))


def _texts(plan: Plan) -> list[tuple[str, str]]:
    """Return the text files of a plan with their names, but for plan.json."""
    texts: list[tuple[str, str]] = []
    pictures = {sheet.name: plate_svg(sheet) for sheet in plan.sheets}
    for sheet in plan.sheets:
        texts += [(file.file_name, file.text) for program in sheet.programs for file in program.files]
        texts.append((f"{sheet.name}.svg", pictures[sheet.name]))
        texts.append((f"{sheet.name}.html", setup_sheet_html(sheet, plan, pictures[sheet.name])))
    texts.append(("cut-list.csv", cut_list_csv(plan)))
    texts.append(("labels.html", labels_html(plan)))
    texts.append(("sorting-list.csv", sorting_csv(plan)))
    texts.append(("sorting-list.html", sorting_html(plan)))
    texts.append(("batch.html", batch_html(plan, pictures)))
    if plan.bending:
        texts.append(("bending.html", bending_html(plan)))
    if joints_of(plan):
        texts += [("joints.csv", joints_csv(plan)), ("joints.html", joints_html(plan))]
    return texts
