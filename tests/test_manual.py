"""The manual says every key, option, column and exit code, because it is written from the code."""

import re
import sys
import tomllib
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[1] / "docs"
sys.path.insert(0, str(DOCS))

import reference_pages  # noqa: E402
from licences import licences_page  # noqa: E402

from cutplan.base.errors import CutplanError  # noqa: E402
from cutplan.base.key_messages import keys_of  # noqa: E402


@pytest.mark.parametrize("title", list(reference_pages.models_of_files()))
def test_every_key_of_a_file_is_described(title: str) -> None:
    assert list(reference_pages.undescribed(reference_pages.models_of_files()[title])) == []


@pytest.mark.parametrize(
    ("page", "title"),
    [("job", "The job file"), ("prices", "The price file"), ("cutting-data", "The cutting-data file"),
     ("post-processor", "The post-processor file"), ("shop", "The shop file")],
)  # fmt: skip
def test_the_page_of_a_file_has_a_row_for_every_key(page: str, title: str) -> None:
    text = reference_pages.PAGES[page]()
    model = reference_pages.models_of_files()[title]
    top, *rest = text.split("\n## `")
    sections = [("", top), *(tuple(part.split("`", 1)) for part in rest)]
    for path, _, key, _ in reference_pages._walk(model, ""):
        bodies = [body for heading, body in sections if heading == path]
        told = any(f"| `{key}` |" in body or "Keys as under `" in body for body in bodies)
        assert told, f"{path} {key}"


def test_every_command_and_option_is_told_with_its_meaning() -> None:
    text = reference_pages.PAGES["commands"]()
    for words, command in reference_pages.commands().items():
        assert f"## `cutplan {words}`" in text
        assert command.help, words
        for each in command.params:
            if each.param_type_name == "option":
                assert getattr(each, "help", None), f"{words} {each.opts}"
                assert each.opts[0] in text


def test_every_error_stands_beside_its_exit_code() -> None:
    text = reference_pages.PAGES["exit-codes"]()
    for kind in CutplanError.__subclasses__():
        assert f"| `{kind.__name__}` | {kind.exit_code} |" in text


def test_every_key_of_plan_json_has_a_row() -> None:
    from cutplan.record.schema import PlanRecord

    text = reference_pages.PAGES["plan-json"]()
    for key in keys_of(PlanRecord):
        assert f"| `{key}` |" in text


def test_the_pages_name_no_place_outside_and_no_page_that_is_missing() -> None:
    for page in DOCS.rglob("*.md"):
        text = page.read_text(encoding="utf-8")
        # Notices are quoted as they are, with what they name.
        assert page.name == "licences.md" or not re.search(r"https?://", text), page
        for target in re.findall(r"\]\(([\w./-]+\.md)\)", text):
            there = (page.parent / target).resolve()
            written = there.parent.name == "reference" and there.stem in reference_pages.PAGES
            assert there.exists() or written, f"{page}: {target}"


def test_commands_in_the_manual_are_commands_of_the_program() -> None:
    known = reference_pages.commands()
    for page in DOCS.rglob("*.md"):
        if page.parent.name == "reference":
            continue
        for line in re.findall(r"cutplan ((?:[a-z]+ )?[a-z]+)(?= |`|$)", page.read_text(encoding="utf-8")):
            words = line.split()
            if f"`cutplan {line}" in page.read_text(encoding="utf-8"):
                assert (
                    " ".join(words) in known or words[0] in known or words[0] in {"stock", "posts", "data"}
                ), line


def test_the_page_of_notes_shows_what_the_reader_makes_of_each_example() -> None:
    """Worked by hand: what a detailer means by each note."""
    text = reference_pages.PAGES["drawings"]()
    for row in (
        "| `UP 90 R10` | up, 90°, radius 10 |",
        "| `DN R=8` | down, radius 8 |",
        "| `2 OFF` | quantity: `2` |",
        "| `t=10` | thickness: `10` |",
        "| `MATERIAL: S235JR` | grade: `S235JR` |",
        "| `ALL DIMENSIONS IN MM` | mm |",
        "| `SCALE 1:1` | – |",
    ):
        assert row in text, row
    unread = [line for line in text.splitlines() if line.endswith("| – |")]
    assert len(unread) == 1, unread


def test_every_dependency_stands_with_its_licence_and_its_notice() -> None:
    project = tomllib.loads((DOCS.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    page = licences_page()
    for wanted in project["dependencies"]:
        name = re.split(r"[>=<\[ ]", wanted)[0]
        (heading,) = re.findall(rf"^## {re.escape(name)} .*$", page, re.MULTILINE | re.IGNORECASE)
        notice = page.split(heading, 1)[1].split("\n## ", 1)[0]
        assert "copyright" in notice.lower() or "licen" in notice.lower(), name
        assert re.search(rf"^\| {re.escape(name)} \| [0-9.]+ \| \S", page, re.MULTILINE | re.IGNORECASE)
