"""What the tables of a post-processor file must agree on, so that its programs are safe.

Each check raises ValueError with the key first (``lines.header: …``); whoever reads the file
turns that into a line number.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from pydantic import model_validator

from cutplan.control import acts
from cutplan.program.postfile import PostForm
from cutplan.program.template import CUT_FIELDS, Template, canonical, words_of

__all__ = ["PATH_MODES", "PLACES", "PostFile"]

PLACES = (
    "header", "raise_torch", "lower_torch", "cut_start", "cut_end", "mark_start", "mark_end", "footer",
)  # fmt: skip
# Fields that stand for Z moves, which the file must ask for.
_HEIGHT_FIELDS = {"travel_height", "height_feed"}
# Modes that a program of this package never runs in.
_FOREIGN_MODES = {"G91", "G93", "G18", "G19"}
# Words that write to the control's memory or fetch from it, or take the plate or tool away.
_FOREIGN_WORDS = {
    "G10", "G28", "G30", "G53", "G92", "G92.1", "G92.2", "G92.3", "M6", "M49", "M60",
}  # fmt: skip
PATH_MODES = ("G64", "G61", "G61.1")
_ALONE = {"M0", "M1", "M2", "M30", "M60", "M6"}


class PostFile(PostForm):
    """A whole post-processor file, its tables held against each other.

    Raises
    ------
    ValueError
        Beginning with a key, where two tables contradict each other.
    """

    @model_validator(mode="after")
    def _agrees(self) -> PostFile:
        _check_header(self)
        _check_footer(self)
        _check_switches(self)
        _check_lines(self)
        _check_modes(self)
        _check_bevel(self)
        return self


def _all_lines(post: PostForm) -> Iterator[tuple[str, str]]:
    for place in PLACES:
        for line in post.lines.at(place):
            yield place, line


def _check_header(post: PostForm) -> None:
    words = [word for line in post.lines.header for word in words_of(line)]
    wanted, other = ("G21", "G20") if post.units == "mm" else ("G20", "G21")
    if wanted not in words or other in words:
        raise ValueError(f"lines.header: units are {post.units}, so the header needs {wanted} and no {other}")
    for mode, (choices, meaning) in _stated_modes(post).items():
        if mode not in post.control.guarantees and not set(choices) & set(words):
            raise ValueError(f"lines.header: needs {' or '.join(choices)} ({meaning})")


def _stated_modes(post: PostForm) -> dict[str, tuple[tuple[str, ...], str]]:
    """Return what a header states: by mode the words that do, and their meaning."""
    switches, offset = post.switches, post.control.work_offset
    stated: dict[str, tuple[tuple[str, ...], str]] = {
        "distance": (("G90",), "absolute distances"),
        "feed mode": (("G94",), "feed a minute"),
        "plane": (("G17",), "the XY plane"),
        "compensation": (("G40",), "an offset left on by another program would move the cut"),
        "work offset": ((offset,), "the plate's zero; another one may be in force"),
        "path mode": (PATH_MODES, "how corners are run"),
    }
    if post.heights is not None:
        stated["tool length"] = (("G49",), "a tool length left on by another program would move Z")
    if post.control.rotation:
        stated["rotation"] = (("G69",), "coordinates not rotated")
    for mode, word in (
        ("torch", switches.torch_off),
        ("marker", switches.marker_off),
        ("flame", switches.preheat_off),
        ("height", switches.height_off),
    ):
        if word:
            stated[mode] = ((canonical(word),), f"the {mode} may be on from before")
    return stated


def _check_footer(post: PostForm) -> None:
    header, footer = post.lines.header, post.lines.footer
    ends = {"M2", "M30"} & set(words_of(footer[-1] if footer[-1].strip() != "%" else "".join(footer[-2:-1])))
    if header[0].strip() == "%":
        if footer[-1].strip() != "%":
            raise ValueError("lines.footer: must end with % where the header begins with it")
    elif not ends:
        raise ValueError("lines.footer: must end with M30 or M2, or the header must begin with %")


def _check_switches(post: PostForm) -> None:
    switches = post.switches
    wanted = [("cut_start", "torch_on"), ("cut_end", "torch_off")]
    if switches.marker_on:
        wanted += [("mark_start", "marker_on"), ("mark_end", "marker_off")]
    elif post.lines.mark_start or post.lines.mark_end:
        raise ValueError("lines.mark_start: there is no marker among the switches")
    for place, name in wanted:
        fields = [field for line in post.lines.at(place) for field in Template.parse(line, CUT_FIELDS).fields]
        if fields.count(name) != 1:
            raise ValueError(f"lines.{place}: needs exactly one {{{name}}}")
    for name, home in (("torch_on", "cut_start"), ("marker_on", "mark_start")):
        word = getattr(switches, name)
        for place, line in _all_lines(post):
            by_field = f"{{{name}}}" in line and place != home
            if by_field or (word and canonical(word) in words_of(line)):
                raise ValueError(
                    f"lines.{place}: {line!r} switches {name}, which only {{{name}}} in {home} may do"
                )


def _check_lines(post: PostForm) -> None:
    for place, line in _all_lines(post):
        if len(line) > post.limits.line_length:
            raise ValueError(f"lines.{place}: {line!r} is longer than limits.line_length")
        if acts(line, post.control.permits):
            raise ValueError(f"lines.{place}: {line!r} begins a comment with a word that controls act on")
        if post.comments.style == "none" and "(" in line:
            raise ValueError(f"lines.{place}: {line!r} is a comment, and comments.style is none")
        moving = sorted(word for word in words_of(line) if word[0] in "XY")
        if moving and place not in ("header", "footer"):
            raise ValueError(f"lines.{place}: {line!r} moves in {moving[0][0]}, which only the plan may do")
        alone = _ALONE | {canonical(word) for _, word in post.switches if word}
        written = words_of(line) + re.findall(r"\{[a-z]+_(?:on|off)\}", line)
        if len(written) > 1 and any(word in alone or word[0] == "{" for word in written):
            raise ValueError(
                f"lines.{place}: {line!r} switches beside other words; each control has its own order, so "
                "give the switch a line of its own"
            )
        foreign = _FOREIGN_WORDS & set(words_of(line)) - set(post.control.permits)
        if foreign:
            raise ValueError(
                f"lines.{place}: {line!r} holds {min(foreign)}, which control.permits does not name"
            )
        foreign = _FOREIGN_MODES & set(words_of(line))
        if foreign:
            raise ValueError(f"lines.{place}: {line!r} sets {min(foreign)}, which no program here runs in")
        if post.heights is None and _HEIGHT_FIELDS & set(Template.parse(line, CUT_FIELDS).fields):
            raise ValueError(f"lines.{place}: {line!r} names a height, and there is no [heights] table")


def _check_modes(post: PostForm) -> None:
    least = 3 if post.units == "mm" else 4  # NISTIR 6556 lets the radii differ by two such steps
    if post.arcs.form in ("incremental", "absolute") and post.number_format.centre_decimals < least:
        raise ValueError(f"numbers.centre_decimals: arc centres in {post.units} need {least} decimals")
    if post.height_control is not None and not post.switches.height_on:
        raise ValueError("height_control: needs height_on and height_off among the switches")
    control = post.compensation
    if control is not None:
        if post.arcs.form not in ("incremental", "absolute"):
            raise ValueError(f"compensation: the control cannot offset arcs of the form {post.arcs.form}")
        if post.arcs.full_circles:
            raise ValueError("arcs.full_circles: cannot be had together with compensation")
        for key, word in (("left", "G41"), ("right", "G42"), ("off", "G40")):
            if word not in words_of(getattr(control, key)):
                raise ValueError(f"compensation.{key}: needs {word}")
    if post.subprograms is not None and (control is not None or post.arcs.form == "absolute"):
        raise ValueError("subprograms: cannot be had together with compensation or absolute centres")


def _check_bevel(post: PostForm) -> None:
    bevel = post.bevel
    if bevel is None:
        return
    for key in ("heights", "height_control", "compensation", "subprograms"):
        if getattr(post, key) is not None:
            raise ValueError(f"{key}: cannot be had together with bevel; a leaning torch has its own")
    if post.limits.splits:
        raise ValueError("limits: a program that bevels is not split, so file_lines and file_bytes go")
    if not post.return_home:
        raise ValueError("return_home: the torch is set upright on its way home, so it must be true")
    remark, stop = bevel.set_torch[:1], [words_of(line) for line in bevel.set_torch[1:]]
    if bevel.head != "hand":
        if bevel.set_torch:
            raise ValueError("bevel.set_torch: only a torch that is set by hand needs it")
        return
    if not remark or not re.fullmatch(r"\([^{}]*\{tilt\}[^{}]*\{towards\}[^{}]*\)", remark[0]):
        raise ValueError(
            "bevel.set_torch: the first line tells the operator {tilt} and {towards} in a remark"
        )
    if ["M0"] not in stop:
        raise ValueError("bevel.set_torch: needs a line M0, so that the control waits for the operator")
