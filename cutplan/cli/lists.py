"""Commands about what a plan draws on: cutting data and post-processors."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from cutplan.cli.learning import learn_data, make_test_pieces
from cutplan.cli.tables import plain_table, wide_console

__all__ = ["data_app", "posts_app"]

data_app = typer.Typer(
    no_args_is_help=True, help="Cutting data: list what there is, check a file of your own."
)
posts_app = typer.Typer(
    no_args_is_help=True, help="Post-processors: list what there is, explain or check one."
)

data_app.command("test-pieces")(make_test_pieces)
data_app.command("learn")(learn_data)

Json = Annotated[bool, typer.Option("--json", help="Print JSON for scripts instead of a table.")]
DataFolders = Annotated[
    list[Path] | None,
    typer.Option("--data", help="A folder or file of your own cutting data, before the shipped."),
]
PostFolders = Annotated[
    list[Path] | None, typer.Option("--folder", help="A folder of your own post-processors, searched first.")
]


@data_app.command("list")
def list_data(folders: DataFolders = None, json_: Json = False) -> None:
    """List the cutting data on offer: process, material, setting and range of thickness.

    The shipped values are starting values by common practice and energy balance; your own
    trials go first.
    """
    from cutplan.process import Library

    records = [
        {
            "process": table.process,
            "material": table.material,
            "setting": table.setting,
            "from_mm": float(table.columns["thickness"][0]),
            "to_mm": float(table.columns["thickness"][-1]),
            "pierces_to_mm": float(table.pierce_limit),
            "file": Path(table.source).name,
            "own": table.own,
        }
        for table in Library.load(folders or []).tables
    ]
    if json_:
        print(json.dumps(records))
        return
    rows = [
        [r["process"], r["material"], r["setting"], f"{r['from_mm']:g} to {r['to_mm']:g}",
         f"{r['pierces_to_mm']:g}", ("own: " if r["own"] else "") + str(r["file"])]
        for r in records
    ]  # fmt: skip
    headings = ["process", "material", "setting", "thickness mm", "pierces mm", "file"]
    wide_console().print(
        plain_table("Cutting data", headings, [[str(c) for c in row] for row in rows], left=3)
    )


@data_app.command("check")
def check_data(
    file: Annotated[Path, typer.Argument(help="A cutting-data file.", show_default=False)],
    json_: Json = False,
) -> None:
    """Hold a cutting-data file against physics: energy balance, oxygen, feeds, gaps.

    Exits with 2 when a row cannot be right.
    """
    from cutplan.process import check_cutting_data, load_cutting_data

    table = load_cutting_data(file)
    findings = check_cutting_data(table)
    if json_:
        records: list[dict[str, Any]] = [
            {"row": f.row, "thickness_mm": f.thickness, "kind": f.kind, "message": f.message}
            for f in findings
        ]
        print(json.dumps(records))
    else:
        for f in findings:
            print(f"{f.kind}: row {f.row} ({f.thickness:g} mm): {f.message}")
        rows = len(table.columns["thickness"])
        print(f"{file}: {rows} rows, {len(findings)} remarks")
    if any(f.kind == "refused" for f in findings):
        raise typer.Exit(2)


@posts_app.command("list")
def list_posts(folders: PostFolders = None, json_: Json = False) -> None:
    """List the post-processors on offer."""
    from cutplan.program import list_postprocessors

    records = [
        {"name": post.name, "description": post.description, "file": Path(post.source).name}
        for post in list_postprocessors(folders or [])
    ]
    if json_:
        print(json.dumps(records))
        return
    rows = [[r["name"], r["description"]] for r in records]
    table = plain_table("Post-processors", ["name", "what it writes"], rows, left=2)
    wide_console().print(table)


@posts_app.command("explain")
def explain_post(
    name: Annotated[str, typer.Argument(help="Name of a post-processor, or its file.", show_default=False)],
    folders: PostFolders = None,
) -> None:
    """Show a sample program of a post-processor, and what each line is for."""
    from cutplan.program import explain_postprocessor, find_postprocessor

    report = explain_postprocessor(find_postprocessor(name, folders or []))
    width = max(len(line.text) for line in report.lines)
    for line in report.lines:
        print(f"{line.text:<{min(width, 60)}}  | {line.purpose}")
    for finding in report.findings:
        print(f"wrong: {finding}")
    if not report.passed:
        raise typer.Exit(2)
