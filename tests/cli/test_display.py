"""What people read on the screen."""

from cutplan.base.findings import Finding
from cutplan.cli.display import findings_lines


def test_what_holds_for_many_holes_is_said_once() -> None:
    holes = [Finding("warning", f"hole {n} of 'web', 9.00 mm wide, is small", (n, 5.0)) for n in range(1, 9)]
    other = Finding("warning", "hole 9 of 'web', 8.00 mm wide, is small", (9.0, 5.0))
    mended = Finding("mended", "a gap was closed", (0.0, 0.0))
    lines = findings_lines([("web", finding) for finding in [*holes, other, mended, *holes]])
    assert lines == [
        "warning: web: hole 1 of 'web', 9.00 mm wide, is small at (1.00, 5.00) (and 7 more like it)",
        "warning: web: hole 9 of 'web', 8.00 mm wide, is small at (9.00, 5.00)",
    ]


def test_a_long_list_of_warnings_is_cut_short_and_says_where_the_rest_is() -> None:
    findings = [(f"part-{n}", Finding("warning", "has no name")) for n in range(30)]
    lines = findings_lines(findings, limit=20)
    assert len(lines) == 21
    assert lines[-1] == "… and 10 more, all in plan.json"
