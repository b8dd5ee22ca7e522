"""The voice of one control: what is said at each place of a program, and in which words.

What a program does is decided in `writer`; a post-processor only says it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property
from typing import Any, ClassVar

from cutplan.base.errors import ProgramError
from cutplan.control import Dialect, acts, harmless_text
from cutplan.process import CutData
from cutplan.program.agreement import PATH_MODES, PLACES, PostFile
from cutplan.program.numbers import NumberFormat
from cutplan.program.template import CUT_FIELDS, Template, canonical, words_of

__all__ = ["PostProcessor"]

# What a line is for, by the first field that tells it.
_REASONS = {
    "preheat_on": "turns the preheat flames up",
    "preheat_off": "turns the preheat flames down to pilot size",
    "preheat": "preheats until the place is hot enough",
    "pre_flow": "lets the gas flow before the cut",
    "post_flow": "lets the gas flow behind the cut",
    "pierce": "waits until the plate is pierced",
    "preheat_height": "brings the torch to preheat height",
    "pierce_height": "brings the torch to pierce height",
    "cut_height": "brings the torch to cutting height, standing",
}


class PostProcessor:
    """A post-processor: the settings of its file, and the few hooks that code may change.

    Most controls need only a file.  Where text and formats are not enough, subclass this
    class, name the file that it starts from in `settings_from`, change the hooks `lines`,
    `comment` and `block`, and register the class in the entry point group
    ``cutplan.postprocessors``.  A hook changes words only: the proof reads what was written,
    and a program that moves otherwise than planned is not let out.

    Parameters
    ----------
    name : str
    settings : PostFile
    source : str
        File that the settings come from.

    Attributes
    ----------
    settings_from : str
        Name of the post-processor file that a registered subclass starts from.
    """

    settings_from: ClassVar[str] = "rs274-metric"

    def __init__(self, name: str, settings: PostFile, source: str) -> None:
        self.name = name
        self.settings = settings
        self.source = source

    @property
    def description(self) -> str:
        """One line on what the post-processor is for."""
        return self.settings.description

    @property
    def lights_several(self) -> bool:
        """Whether its programs light torches side by side."""
        return any("{torches}" in line for line in self.settings.lines.header)

    @cached_property
    def preheats_apart(self) -> bool:
        """Whether its programs know a height of its own for preheating."""
        return any("{preheat_height}" in line for _, lines in self.settings.lines for line in lines)

    @cached_property
    def numbers(self) -> NumberFormat:
        """How numbers are written."""
        return self.settings.number_format

    @cached_property
    def dialect(self) -> Dialect:
        """What the words of the programs mean to their reader."""
        settings, followed = self.settings, self.settings.height_control
        switches, heights, control = settings.switches, settings.heights, settings.control
        return Dialect(
            torch_on=_words(switches.torch_on),
            torch_off=_words(switches.torch_off),
            marker_on=_words(switches.marker_on),
            marker_off=_words(switches.marker_off),
            flame_on=_words(switches.preheat_on),
            flame_off=_words(switches.preheat_off),
            height_on=_words(switches.height_on),
            height_off=_words(switches.height_off),
            heights="control" if heights is None else "program",
            travel_height_mm=None if heights is None else heights.travel_mm,
            height_feed_mm_min=None if heights is None else heights.feed_mm_min,
            lowers_moving=heights is None or heights.lowers_moving,
            slow_without_height_control=bool(followed and followed.off_in_slow_spans),
            height_control_from_mm=followed.least_run_mm if followed else None,
            height_control_corner_mm=followed.corner_mm if followed else 0.0,
            height_control_corner_deg=followed.corner_deg if followed else 30.0,
            marker_feed_mm_min=settings.marker_feed_mm_min,
            flows_by_control=control.flows_by_control,
            path_modes=tuple(word for word in PATH_MODES if word in self._header_words) or ("G64",),
            absolute_centres=self.settings.arcs.form == "absolute",
            arc_distance_words=bool({"G90.1", "G91.1"} & self._header_words),
            dwell_ms=self.settings.numbers.dwell_unit == "ms",
            concave_corners=False,
            subprograms=self.settings.subprograms is not None,
            pierce_by_control=self.settings.pierce_by_control,
            deletes_marks=settings.block_delete.marks,
            torch_word_waits=control.torch_word_waits,
            torches_in_t=any("T{torches}" in line for line in self.settings.lines.header),
            spacing_remark=self._spacing_remark,
            work_offset=control.work_offset,
            guarantees=control.guarantees,
            has_rotation=control.rotation,
            permits=control.permits,
            **self._leaning,
            step_mm=self.numbers.step_mm,
        )

    @property
    def _header_words(self) -> set[str]:
        return {word for line in self.settings.lines.header for word in words_of(line)}

    @property
    def _spacing_remark(self) -> tuple[str, ...]:
        """What stands round the torches' distance in the header's remark of it."""
        found = (line for line in self.settings.lines.header if "{torch_spacing}" in line)
        line = next(found, None)
        return () if line is None else tuple(line.strip("() ").split("{torch_spacing}", 1))

    @property
    def _leaning(self) -> dict[str, Any]:
        """How the torch leans, and what stands round tilt and way in the remark that has it set."""
        bevel = self.settings.bevel
        if bevel is None:
            return {}
        remark = bevel.set_torch[0].strip("() ") if bevel.set_torch else ""
        return {
            "head": bevel.head,
            "tilt_remark": tuple(re.split(r"\{tilt\}|\{towards\}", remark)) if remark else (),
        }

    def set_torch(self, fields: Mapping[str, str]) -> list[str]:
        """Return the lines that have the operator set a torch that leans; none where the program turns it.

        Parameters
        ----------
        fields : mapping
            As for `lines`, "tilt" and "towards" among them.
        """
        bevel = self.settings.bevel
        if bevel is None:
            return []
        filled = (Template.parse(line, CUT_FIELDS).render(fields) for line in bevel.set_torch)
        return [line for line in filled if line is not None]

    def dialect_for(self, data: CutData) -> Dialect:
        """Return the dialect as some cutting data ask for it."""
        if self.settings.compensation is None:
            return self.dialect
        return replace(self.dialect, compensation_radius_mm=data.kerf / 2.0)

    def lines(self, place: str, fields: Mapping[str, str]) -> list[str]:
        """Return the lines that stand at a place of the program.

        Parameters
        ----------
        place : str
            "header", "raise_torch", "lower_torch", "cut_start", "cut_end", "mark_start",
            "mark_end" or "footer"; "offset_left", "offset_right" and "offset_off" where the
            control offsets by the kerf.
        fields : mapping
            Fields by name, as text in the control's units; empty where there is nothing to
            say (a dwell of no length, a switch that the control does not have).
        """
        clean = {name: self._clean(name, text) for name, text in fields.items()}
        filled = (template.render(clean) for template in self._templates[place])
        return [self._quiet(line) for line in filled if line is not None]

    def reasons(self, place: str, fields: Mapping[str, str]) -> list[str]:
        """Return what each of the file's lines at a place is for, as far as its fields tell.

        Parameters
        ----------
        place, fields
            As for `lines`.
        """
        said = (template for template in self._templates[place] if template.render(fields) is not None)
        return [
            next((_REASONS[field] for field in template.fields if field in _REASONS), "") for template in said
        ]

    def _quiet(self, line: str) -> str:
        """Return a line whose remark begins with no word that controls act on."""
        return line.replace("(", "(- ", 1) if acts(line, self.settings.control.permits) else line

    @staticmethod
    def _clean(name: str, text: str) -> str:
        """Return a field's text; what comes from a drawing or a job stands in a comment only."""
        return harmless_text(text) if CUT_FIELDS.get(name) == "text" else text

    def comment(self, text: str) -> list[str]:
        """Return comment lines that say a text, none where comments are off."""
        if self.settings.comments.style == "none":
            return []
        return [f"({harmless_text(text)[: self.settings.limits.line_length - 2]})"]

    def block(self, words: list[str]) -> str:
        """Return one block from its words, in order: G, X, Y, Z, I, J, R, F."""
        return (" " if self.settings.words.spaces else "").join(words)

    @cached_property
    def _templates(self) -> dict[str, list[Template]]:
        texts = {place: self.settings.lines.at(place) for place in PLACES}
        control = self.settings.compensation
        if control is not None:
            texts |= {"offset_left": (control.left,), "offset_right": (control.right,)}
            texts |= {"offset_off": (control.off,)}
        return {place: [Template.parse(line, CUT_FIELDS) for line in lines] for place, lines in texts.items()}

    def checked(self, line: str) -> str:
        """Return a finished line.

        Raises
        ------
        ProgramError
            It is longer than the control can hold.
        """
        limit = self.settings.limits.line_length
        if len(line) > limit:
            raise ProgramError(
                f"the line {line[:40]!r}… has {len(line)} characters, the control holds {limit}",
                where=self.source,
                remedy="raise limits.line_length, or write fewer decimals",
            )
        return line


def _words(word: str) -> tuple[str, ...]:
    return (canonical(word),) if word else ()
