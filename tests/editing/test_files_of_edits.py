"""The file of edits: what is written comes back, older is brought up to date, newer and foreign refused."""

import json

import pytest

from cutplan.base.errors import InputError, OutputError
from cutplan.editing import Edits, EditStart, SheetLaid, read_edits, write_edits
from cutplan.editing import file as edits_file


def some() -> Edits:
    laid = SheetLaid(
        plate="PL",
        sheet=1,
        placements=(("cover", 1, 0.1 + 0.2, 9.0, 90.0, False),),
        order=(("cover", 1, "hole 2", 1),),
    )
    edits = Edits(job="hand", start=EditStart(sheets=(laid,), told=(("10 mm", "one torch"),)))
    edits = edits.having("move", part="cover", copy=1, at=(1 / 3, 20.0)).having("pin", part="cover", copy=1)
    before = {"part": "cover", "copy": 1, "contour": "hole 1"}
    return edits.having("before", first=before, then={**before, "contour": "hole 2"}).undo()


def test_what_is_written_comes_back_to_the_last_bit(tmp_path):
    write_edits(some(), tmp_path / "hand.edits.json")
    assert read_edits(tmp_path / "hand.edits.json") == some()
    text = (tmp_path / "hand.edits.json").read_text()
    assert '{"do": "pin", "part": "cover", "copy": 1, "pinned": true}' in [
        line.strip(" ,") for line in text.splitlines()
    ]


def test_undo_and_redo_go_all_the_way_and_a_new_edit_forgets_what_was_undone():
    edits = some()
    assert [e.do for e in edits.edits] == ["move", "pin"] and [e.do for e in edits.undone] == ["before"]
    assert edits.redo().redo is not None and edits.redo().undone == ()
    back = edits.undo().undo()
    assert back.edits == () and [e.do for e in back.undone] == ["move", "pin", "before"]
    assert back.redo().redo().redo() == edits.redo()
    assert back.having("pin", part="cover", copy=1).undone == ()
    with pytest.raises(InputError, match="no edit to undo"):
        back.undo()
    with pytest.raises(InputError, match="no undone edit"):
        edits.redo().redo()


def test_an_older_file_is_brought_up_to_date_and_kept_beside(tmp_path, monkeypatch):
    file = tmp_path / "hand.edits.json"
    old = {"schema": "cutplan.edits/0", "job": "hand", "moves": []}
    file.write_text(json.dumps(old))
    monkeypatch.setitem(edits_file.MIGRATIONS, 0, lambda data: {"job": data["job"], "edits": data["moves"]})
    assert read_edits(file) == Edits(job="hand")
    assert json.loads((tmp_path / "hand.edits.json.v0").read_text()) == old
    assert json.loads(file.read_text())["schema"] == "cutplan.edits/1"


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ({"schema": "cutplan.edits/7", "job": "hand"}, "cutplan.edits/7.*up to"),
        ({"schema": "cutplan.plan/1", "job": "hand"}, "a file of edits has"),
        ({"job": "hand"}, "a file of edits has"),
        ([], "no file of edits"),
        ({"schema": "cutplan.edits/1", "job": "hand", "edits": [{"do": "fly"}]}, "fly|do"),
        (
            {"schema": "cutplan.edits/1", "job": "hand", "edits": [{"do": "pin", "part": "a", "copy": 0}]},
            "copy",
        ),
    ],
)
def test_a_newer_or_foreign_file_is_refused_and_left_as_it_is(tmp_path, content, told):
    file = tmp_path / "hand.edits.json"
    file.write_text(json.dumps(content))
    with pytest.raises(InputError, match=told):
        read_edits(file)
    assert json.loads(file.read_text()) == content


def test_no_file_is_overwritten_that_holds_no_edits(tmp_path):
    file = tmp_path / "notes.json"
    file.write_text("mine")
    with pytest.raises(OutputError, match="no file of edits"):
        write_edits(some(), file)
    assert file.read_text() == "mine" and list(tmp_path.iterdir()) == [file]
