"""Post-processor files: found in their order, refused with the line at fault."""

from __future__ import annotations

from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from cutplan.base.errors import ProgramError
from cutplan.base.files import FileModel
from cutplan.control import Dialect
from cutplan.program import PostProcessor, catalogue, find_postprocessor, list_postprocessors
from cutplan.program.agreement import PostFile
from cutplan.program.template import CUT_FIELDS

SHIPPED = Path(find_postprocessor("rs274-metric").source)
GOOD = SHIPPED.read_text(encoding="utf-8")


@pytest.fixture(autouse=True)
def no_own_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("CUTPLAN_POSTPROCESSORS", str(tmp_path / "none"))


def put(folder: Path, text: str, name: str = "own") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / f"{name}.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_at_least_eight_ship_and_are_named_after_what_they_do() -> None:
    names = {post.name for post in list_postprocessors()}
    assert len(names) >= 8
    assert names >= {
        "rs274-metric", "rs274-inch", "rs274-absolute-centres", "rs274-lines-only",
        "rs274-control-compensation", "rs274-oxyfuel-preheat", "rs274-several-torches", "rs274-heights",
    }  # fmt: skip
    assert all(post.description for post in list_postprocessors())


def test_folders_given_come_first_then_the_user_s_own_then_what_ships(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given, own = tmp_path / "given", tmp_path / "own"
    monkeypatch.setenv("CUTPLAN_POSTPROCESSORS", str(own))
    assert find_postprocessor("rs274-metric").source == str(SHIPPED)
    put(own, GOOD.replace("Plain RS-274", "Our RS-274"), "rs274-metric")
    assert find_postprocessor("rs274-metric").description.startswith("Our")
    put(given, GOOD.replace("Plain RS-274", "Their RS-274"), "rs274-metric")
    assert find_postprocessor("rs274-metric", [given]).description.startswith("Their")
    names = [post.name for post in list_postprocessors([given])]
    assert len(names) == len(set(names))


def test_a_file_can_be_named_by_its_path(tmp_path: Path) -> None:
    assert find_postprocessor(str(put(tmp_path, GOOD, "bay-2"))).name == "bay-2"
    with pytest.raises(ProgramError, match="no such file"):
        find_postprocessor(str(tmp_path / "absent.toml"))


def test_an_unknown_name_is_answered_with_what_there_is() -> None:
    with pytest.raises(ProgramError, match=r"no post-processor 'rs274-metrik'.*did you mean 'rs274-metric'"):
        find_postprocessor("rs274-metrik")


def line_of(text: str, part: str) -> int:
    return next(k for k, line in enumerate(text.splitlines(), 1) if part in line)


BAD = [
    ('units = "mm"', 'units = "cm"', "units", 'units = "cm"'),
    ("decimals = 3", "decimals = 9", "decimals", "decimals = 9"),
    ("decimals = 3", "decimls = 3", "unknown key; did you mean 'decimals'", "decimls"),
    ("dwell_decimals = 2", "dwell_decimals = 2\nspeed = nan", "unknown key", "speed"),
    ("marker_feed_mm_min = 5000", "marker_feed_mm_min = -1", "greater than 0", "marker_feed_mm_min"),
    ("marker_feed_mm_min = 5000", "marker_feed_mm_min = inf", "finite", "marker_feed_mm_min"),
    ('torch_on = "M3"', 'torch_on = "rm -rf"', "'rm -rf' is no M word", "rm -rf"),
    ('torch_on = "M3"', 'torch_on = "M05"', "torch_on and torch_off are the same word", "[switches]"),
    ('marker_off = "M9"\n', "", "given together", "[switches]"),
    ('"{torch_on}"', '"{arc}"', "unknown field {arc}; fields here:", "{arc}"),
    ('"{torch_on}"', '"{torch_onn}"', "unknown field {torch_onn}; did you mean {torch_on}?", "{torch_onn}"),
    ('"{torch_on}"', '"{torch_on.__class__}"', "unknown field", "__class__"),
    ('"{torch_on}"', '"{torch_on!r}"', "unknown field", "!r}"),
    ('"{torch_on}"', '"{0}"', "unknown field {0}", "{0}"),
    ('"{torch_on}"', '"M3"', "exactly one {torch_on}", "cut_start"),
    ('"{torch_on}"', '"{torch_on}", "{torch_on}"', "exactly one {torch_on}", "cut_start"),
    ('"{torch_on}"', '"{torch_on} {part}"', "{part} outside a comment", "{part}"),
    ('["{torch_off}"]', '["{torch_off} (end"]', "does not close it", "(end"),
    ('["{torch_off}"]', '["{torch_off} end)"]', "closes a comment", "end)"),
    ('["{torch_off}"]', '["{torch_off} (a (b))"]', "comment inside a comment", "(a (b))"),
    ('["{torch_off}"]', '["{torch_off", "x"]', "brace without its partner", '"{torch_off"'),
    ('["{torch_off}"]', '["{torch_off} é"]', "not printable ASCII", "é"),
    ('["{torch_off}"]', '["{torch_off}\\nM3"]', "not printable ASCII", "cut_end"),
    ('["{torch_off}"]', '["{torch_off}", "G0 X0 Y0"]', "moves in X", "G0 X0 Y0"),
    ('["{torch_off}"]', '["{torch_off}", "M03"]', "switches torch_on", "M03"),
    ('["{torch_off}"]', '["{torch_off}", "G91"]', "sets G91", "G91"),
    ('["{torch_off}"]', '["{torch_off}", "G0 Z{travel_height}"]', "no [heights] table", "travel_height"),
    ('["{marker_on}"]', '["{torch_on}", "{marker_on}"]', "switches torch_on", "mark_start"),
    ('"M5", "M9"]', '"M5", "M9", "{torch_on}"]', "switches torch_on", "header = ["),
    ("G21 G90", "G20 G90", "the header needs G21 and no G20", "header = ["),
    ("G21 G90", "G21", "needs G90", "header = ["),
    ("G17 G40", "G17", "needs G40", "header = ["),
    ("G94 G54", "G94", "needs G54", "header = ["),
    ("G54 G64", "G54", "needs G64 or G61", "header = ["),
    ('"M5", "M9"]', '"M5"]', "needs M9 (the marker may be on from before)", "header = ["),
    ('"M5", "M9"]', '"M5 M9"]', "switches beside other words", "M5 M9"),
    ('["{torch_off}"]', '["{torch_off} G4 P1"]', "switches beside other words", "G4 P1"),
    ('["{torch_off}"]', '["{torch_off}", "G53 G0 Z0"]', "holds G53, which control.permits does not name", "G53"),
    ('["{torch_off}"]', '["{torch_off}", "(MSG, {part})"]', "a word that controls act on", "MSG"),
    ("[lines]", "[control]\nguarantees = ['colour']\n[lines]", "'colour' is no mode", "guarantees"),
    ('footer = ["M30"]', 'footer = ["M5"]', "must end with M30 or M2", "footer"),
    ('header = ["G21', 'header = ["%", "G21', "must end with % where the header", "footer"),
    ("[lines]", "[comments]\nstyle = 'none'\n[lines]\nraise_torch = ['(up)']", "comments.style is none", "(up)"),
    ("[lines]", "[height_control]\n[lines]", "needs height_on", "[height_control]"),
    ("[lines]", "[arcs]\nform = 'radius'\n[compensation]\n[lines]", "cannot offset arcs", "[compensation]"),
    ("[lines]", "[compensation]\nleft = 'G42 D1'\n[lines]", "needs G41", "left = "),
    ("[lines]", "[compensation]\nleft = 'G41 D{n}'\n[lines]", "unknown field {n}", "left = "),
    ("[lines]", "[compensation]\n[subprograms]\n[lines]", "cannot be had together", "[subprograms]"),
    ("[lines]", "[arcs]\nform = 'radius'\nfull_circles = true\n[lines]", "needs arcs with a centre", "[arcs]"),
    ("decimals = 3\n", "decimals = 2\n", "arc centres in mm need 3 decimals", "[numbers]"),
    ("decimals = 3\n", "decimals = 3\ncentre_decimals = 2\n", "must not be below decimals", "[numbers]"),
    ("[lines]", "[limits]\nline_length = 300\n[lines]", "line_length", "line_length"),
    ("[lines]", "[line_numbers]\nfirst = 10\nhighest = 12\n[lines]", "leaves no room", "[line_numbers]"),
    ("[lines]", "[lines", "not valid TOML", None),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "reason", "at"), BAD, ids=[f"{k}-{bad[2]}" for k, bad in enumerate(BAD)]
)
def test_a_bad_file_is_refused_with_the_line_at_fault(
    tmp_path: Path, old: str, new: str, reason: str, at: str | None
) -> None:
    assert old in GOOD
    text = GOOD.replace(old, new, 1)
    file = put(tmp_path, text)
    with pytest.raises(ProgramError) as caught:
        find_postprocessor("own", [tmp_path])
    said = str(caught.value)
    assert reason in said
    assert str(file) in said
    assert f"line {line_of(text, at)}" in said if at else "line" in said
    assert "\n" not in said


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b""])
def test_a_file_that_is_no_text_or_empty_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "own.toml").write_bytes(content)
    with pytest.raises(ProgramError, match=r"(?s)own\.toml.*(not UTF-8|missing)"):
        find_postprocessor("own", [tmp_path])


def test_the_dialect_of_a_file_says_what_its_words_mean(tmp_path: Path) -> None:
    text = (
        GOOD.replace('"M3"', '"M03"')
        .replace('"M5"', '"M05"')
        .replace("[lines]", "[arcs]\nform='absolute'\n[lines]")
    )
    dialect = find_postprocessor(str(put(tmp_path, text))).dialect
    assert (dialect.torch_on, dialect.torch_off) == (("M3",), ("M5",))
    assert dialect.absolute_centres
    plain = find_postprocessor("rs274-metric").dialect
    assert plain == Dialect(concave_corners=False, marker_feed_mm_min=5000.0)


class Registered(PostProcessor):
    """A class that a package registers."""

    settings_from = "rs274-inch"


def register(monkeypatch: pytest.MonkeyPatch, value: str) -> None:
    point = EntryPoint("bay-3", value, catalogue.ENTRY_POINTS)
    monkeypatch.setattr(catalogue, "entry_points", lambda group: [point])


def test_a_registered_class_is_found_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cutplan.program.explain.Registered", Registered, raising=False)
    register(monkeypatch, "cutplan.program.explain:Registered")
    post = find_postprocessor("bay-3")
    assert isinstance(post, Registered)
    assert post.settings.units == "in"
    assert "bay-3" in [found.name for found in list_postprocessors()]


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("cutplan.program.absent:Post", "cannot be loaded"),
        ("cutplan.control.digest:digest", "not a subclass of PostProcessor"),
    ],
)
def test_a_registration_that_does_not_work_is_an_error(
    monkeypatch: pytest.MonkeyPatch, value: str, reason: str
) -> None:
    register(monkeypatch, value)
    with pytest.raises(ProgramError, match=reason):
        find_postprocessor("bay-3")


def test_the_manual_beside_the_files_names_every_file_key_and_field() -> None:
    manual = (SHIPPED.parent / "README.md").read_text(encoding="utf-8")
    for post in list_postprocessors():
        assert f"| `{post.name}` |" in manual
    for key, field in PostFile.model_fields.items():
        kinds = [kind for kind in (field.annotation, *getattr(field.annotation, "__args__", ())) if kind]
        tables = [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, FileModel)]
        assert f"`[{key}]`" in manual if tables else f"`{key}`" in manual
        for table in tables:
            assert all(f"`{inner}`" in manual for inner in table.model_fields), key
    switches = {name for name, kind in CUT_FIELDS.items() if kind == "switch"}
    assert all(f"`{{{name}}}`" in manual for name in CUT_FIELDS.keys() - switches)
