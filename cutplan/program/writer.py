"""Ordered cuts into program text: what is said, in which order, on one sheet's program.

The words are the post-processor's; numbers are left to `rounding`, motion words to `blocks`,
whole files to `assembly`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from cutplan.base.errors import ProgramError
from cutplan.base.machine import Machine
from cutplan.control import stamp
from cutplan.cutting import Lean
from cutplan.geometry import FloatArray, Path
from cutplan.process import CutData
from cutplan.program.assembly import CutText, assemble
from cutplan.program.blocks import Blocks, Line
from cutplan.program.compensation import programmed_stretches
from cutplan.program.heights import heights_along, refuse_wrong_heights
from cutplan.program.leaning import HeadWords, arcs_of_head, heading_deg
from cutplan.program.model import Program
from cutplan.program.notes import cut_fields, header_notes, program_fields, remark_of
from cutplan.program.postprocessor import PostProcessor
from cutplan.program.rounding import Side, has_wide_arcs, rounded_moves, without_wide_arcs
from cutplan.program.stretches import Stretch, lowering_way, scrap_side, stretches
from cutplan.program.template import canonical, words_of
from cutplan.sequencing import Order, Step
from cutplan.stock import NestedPlate

__all__ = ["program_lines", "write_program"]

_PLACES = {
    "header": "sets the modes that the program runs in",
    "raise_torch": "lifts the torch to travel height",
    "lower_torch": "brings the torch down to pierce height",
    "cut_start": "lights the torch and pierces",
    "cut_end": "puts the torch out",
    "mark_start": "brings the marker down",
    "mark_end": "lifts the marker",
    "offset_left": "the control offsets to the left of the programmed contour by its register",
    "offset_right": "the control offsets to the right of the programmed contour by its register",
    "offset_off": "the control's offset ends",
    "footer": "ends the program",
}
_EARLY = "puts the arc out before the hole's end, while the torch moves on"


def write_program(
    order: Order,
    sheet: NestedPlate,
    data: CutData,
    machine: Machine,
    post: PostProcessor,
    *,
    name: str,
    header: Sequence[str] | None = None,
    bound: Mapping[str, str] | None = None,
    torch_spacing: float | None = None,
) -> Program:
    """Return the program that runs the cuts of a sheet in their order.

    Parameters
    ----------
    order : Order
    sheet : NestedPlate
    data : CutData
    machine : Machine
    post : PostProcessor
    name : str
        Name of the program, for its head and its file.
    header : sequence of str, optional
        Further remarks for the head of the program.
    bound : mapping of str to str, optional
        Digests of what the plan is bound to, by name, to stand in the head.
    torch_spacing : float, optional
        Distance of the machine's torches, mm, where they cut side by side.

    Returns
    -------
    Program

    Raises
    ------
    ProgramError
        The cuts cannot be said in the post-processor's form; the message says which.
    """
    files = program_lines(
        order, sheet, data, machine, post, name=name, header=header, torch_spacing=torch_spacing
    )
    dialect = post.dialect_for(data)
    programs = []
    for k, lines in enumerate(files, start=1):
        text = "".join(f"{line.text}\n" for line in lines)
        title = name if len(files) == 1 else f"{name}-{k}"
        programs.append(Program(title, stamp(text, bound), post.name, dialect, post.settings.extension))
    first = programs[0]
    return replace(first, more=tuple(programs[1:]))


def program_lines(
    order: Order,
    sheet: NestedPlate,
    data: CutData,
    machine: Machine,
    post: PostProcessor,
    *,
    name: str,
    header: Sequence[str] | None = None,
    torch_spacing: float | None = None,
) -> list[list[Line]]:
    """Return the lines of each file with what they are for, not yet stamped.

    Parameters and errors are those of `write_program`.
    """
    refuse_wrong_heights(data, post)
    fields = program_fields(order, sheet, data, machine, post, name=name, torch_spacing=torch_spacing)
    teller = _Teller(order, data, machine, post, fields)

    def head(k: int, n: int) -> list[Line]:
        here = {**fields, "file": str(k), "files": str(n)}
        return teller.head(
            here,
            [*header_notes(order, sheet, data, post, here, water_table=machine.water_table), *(header or ())],
        )

    cuts = [teller.cut(step, n) for n, step in enumerate(order.steps, start=1)]
    return assemble(head, cuts, teller.foot(), post, name, nothing=teller.home(None))


class _Teller:
    """Tells the cuts of one order in the words of a post-processor."""

    def __init__(
        self, order: Order, data: CutData, machine: Machine, post: PostProcessor, fields: dict[str, str]
    ) -> None:
        self._order = order
        self._data = data
        self._machine = machine
        self._post = post
        self._settings = post.settings
        self._fields = fields
        self._blocks = Blocks(post)
        self._head = HeadWords(post.dialect.head)

    def head(self, fields: dict[str, str], notes: Sequence[str]) -> list[Line]:
        """Return the head of a file: remarks come after a % and an O line."""
        lines = [Line(text, _PLACES["header"]) for text in self._post.lines("header", fields)]
        first = next((k for k, line in enumerate(lines) if line.text[:1] not in "%Oo"), len(lines))
        if not self._settings.comments.notes:
            return lines
        remarks = [Line(text, "tells the operator") for note in notes for text in self._post.comment(note)]
        return [*lines[:first], *remarks, *lines[first:]]

    def foot(self) -> list[Line]:
        """Return the last lines of a file."""
        return list(self._said("footer", self._fields))

    def home(self, end: tuple[float, float] | None) -> list[Line]:
        """Return the way home from where the last cut of a file ends, None for a file without cuts."""
        self._blocks.lose_place()
        lines = list(self._said("raise_torch", self._fields))
        if self._settings.return_home:
            start = self._machine.start
            way = [] if end is None else _turns(self._order.way(end, start))
            upright = HeadWords(self._post.dialect.head).upright()
            lines += self._rapids([*way, start], "rapid home", upright)
        return lines

    def cut(self, step: Step, n: int) -> CutText:
        """Return the lines of one cut."""
        self._check(step, n)
        marking = step.cut.kind == "mark"
        start_place, end_place = ("mark_start", "mark_end") if marking else ("cut_start", "cut_end")
        fields = {**self._fields, **cut_fields(step, n, self._data, self._post)}
        pierce = (float(step.lead.path.start[0]), float(step.lead.path.start[1]))
        way = _turns(step.travel.points)
        travel = self._travel(step, n, [*way, pierce], fields, lift=step.travel.raised or n == 1)
        may_begin_file = n > 1 and self._settings.limits.splits
        from_home = travel
        if may_begin_file:
            from_start = _turns(self._order.way(self._machine.start, pierce))
            from_home = self._travel(step, n, [*from_start, pierce], fields, lift=True)
        start = list(self._said(start_place, fields))
        self._blocks.forget()
        side = self._scrap(step)
        pieces = self._pieces(step, side)
        put_out, end = self._ending(end_place, fields, coasts=any(piece.coasts for piece in pieces))
        moves = list(self._moves(pieces, self._blocks, pierce, side, fields, put_out, step.cut.lean))
        if self._settings.compensation is not None and side != "on":
            moves = [*self._said(f"offset_{side}", fields), *moves, *self._said("offset_off", fields)]
        relative: list[Line] = []
        if self._settings.subprograms is not None:
            steps = Blocks(self._post, relative=True)
            relative = list(self._moves(pieces, steps, pierce, side, fields, put_out))
        text = CutText(
            travel=tuple(travel),
            from_home=tuple(from_home),
            start=tuple(start),
            moves=tuple(moves),
            end=tuple(end),
            relative=tuple(relative),
            home=tuple(self.home(step.lead.end)),
        )
        return _deletable(text) if marking and self._settings.block_delete.marks else text

    def _ending(
        self, place: str, fields: dict[str, str], *, coasts: bool
    ) -> tuple[tuple[Line, ...], tuple[Line, ...]]:
        """Return the lines that put the arc out on the way, and those that end the cut behind it."""
        lines = tuple(self._said(place, fields))
        if not coasts:
            return (), lines
        off = canonical(self._settings.switches.torch_off)
        behind = 1 + next(k for k, line in enumerate(lines) if off in words_of(line.text))
        return tuple(line._replace(why=_EARLY) for line in lines[:behind]), lines[behind:]

    def _scrap(self, step: Step) -> Side:
        """Return the side of the travel without a part, where the form of the moves asks for it."""
        if step.lead.again_mm > 0.0 and self._settings.compensation is not None:
            # Begun in its kerf it has no way on which the control could come to its offset.
            return "on"
        arcs = self._settings.arcs
        lines = arcs.form == "lines" or has_wide_arcs(step.lead.path, arcs)
        asked = self._settings.compensation is not None or lines
        return scrap_side(step.cut, step.lead) if asked else "on"

    def _pieces(self, step: Step, side: Side) -> list[Stretch]:
        """Return what is programmed, in order: the torch path, or what the control offsets to it."""
        lowering = lowering_way(step.cut, step.lead, self._data, self._settings.heights)
        pieces = stretches(step.cut, step.lead, self._data, self._settings.height_control, lowering)
        arcs = self._settings.arcs
        if has_wide_arcs(step.lead.path, arcs):
            pieces = [replace(piece, path=without_wide_arcs(piece.path, arcs, side)) for piece in pieces]
        control = self._settings.compensation
        if control is None or side == "on":
            return pieces
        return programmed_stretches(pieces, side, self._data.kerf / 2.0, control.corner_reserve_mm)

    def _check(self, step: Step, n: int) -> None:
        if step.cut.lean is not None and self._settings.bevel is None:
            raise ProgramError(
                f"cut {n} bevels {step.cut.makes[0].part}, and the post-processor {self._post.name} leans no torch",
                where=self._fields["name"],
                remedy="name one with a [bevel] table by postprocessor_bevels",
            )
        if step.cut.kind == "mark" and not self._settings.switches.marker_on:
            raise ProgramError(
                f"cut {n} marks {step.cut.makes[0].part}, and the post-processor {self._post.name} knows no marker",
                where=self._fields["name"],
                remedy="give it marker_on and marker_off, or plan without marks",
            )

    def _travel(
        self, step: Step, n: int, way: Sequence[tuple[float, float]], fields: dict[str, str], *, lift: bool
    ) -> list[Line]:
        self._blocks.lose_place()
        cut = step.cut
        lines: list[Line] = []
        if self._settings.comments.cuts:
            remark = f"cut {n} of {len(self._order.steps)}: {remark_of(cut)}"
            lines += [Line(text, "names the cut that follows") for text in self._post.comment(remark)]
        if lift or (cut.kind == "mark" and self._settings.heights is not None):
            lines += self._said("raise_torch", fields)
        elif self._settings.heights is not None:
            low = self._post.numbers.length(self._machine.low_travel_height_mm)
            lines += self._said("raise_torch", {**fields, "travel_height": low})
        if cut.lean is None:
            head = self._head.upright()
        else:
            lines += [
                Line(t, "has the operator set the torch") for t in self._post.set_torch(fields) if n == 1
            ]
            head = self._head.along(cut.lean, heading_deg(step.lead.path, 0.0))
        lines += self._rapids(way, "rapid to the mark" if cut.kind == "mark" else "rapid to the pierce", head)
        if cut.kind != "mark":
            lines += self._said("lower_torch", fields)
        return [lines[0]._replace(begins_cut=True), *lines[1:]]

    def _rapids(
        self, way: Sequence[tuple[float, float]], why: str, head: Sequence[str] = ()
    ) -> Iterator[Line]:
        """Yield rapids; the head turns on the first of them."""
        numbers = self._post.numbers
        for place in way:
            text = self._blocks.rapid(numbers.steps(place[0]), numbers.steps(place[1]), head)
            head = ()
            if text is not None:
                yield Line(text, why)

    def _moves(
        self,
        pieces: Sequence[Stretch],
        blocks: Blocks,
        pierce: tuple[float, float],
        scrap: Side,
        fields: dict[str, str],
        put_out: tuple[Line, ...],
        lean: Lean | None = None,
    ) -> Iterator[Line]:
        """Yield the feed moves, with the height control and an early arc off switched between them."""
        numbers = self._post.numbers
        origin = pierce if blocks.relative else (0.0, 0.0)
        here = numbers.steps(pierce[0] - origin[0]), numbers.steps(pierce[1] - origin[1])
        arcs = arcs_of_head(self._settings.arcs, self._post.dialect.head)
        ahead = heading_deg(pieces[0].path, 0.0)
        holding = False
        blocks.stand_at(numbers.steps(self._data.pierce_height))
        for piece in pieces:
            if piece.height_control != holding:
                holding = piece.height_control
                yield self._height_switch(holding, fields)
            if piece.coasts and put_out:
                yield from put_out
                put_out = ()
                blocks.forget()
            marking = piece.role == "mark"
            feed_mm_min = self._settings.marker_feed_mm_min if marking else self._data.feed_mm_min
            feed = numbers.feed(feed_mm_min * piece.factor)
            path = _shifted(piece.path, origin)
            moves = rounded_moves(path, here, numbers, arcs, scrap)
            for move, height in zip(moves, heights_along(piece, moves, here, numbers), strict=True):
                words: list[str] = []
                if lean is not None:
                    words, ahead = self._head.after(lean, move, here, ahead)
                text = blocks.feed_move(move, feed, height, words)
                yield Line(text, _reason(piece, move.arc is not None))
                here = (move.x, move.y)
        if holding:
            yield self._height_switch(False, fields)

    def _height_switch(self, on: bool, fields: dict[str, str]) -> Line:
        if on:
            return Line(fields["height_on"], "height control on, where the arc voltage is steady")
        return Line(fields["height_off"], "height control off, where the torch slows down or ends")

    def _said(self, place: str, fields: dict[str, str]) -> Iterator[Line]:
        texts, reasons = self._post.lines(place, fields), self._post.reasons(place, fields)
        # A subclass may say other lines than its file.
        told = reasons if len(reasons) == len(texts) else [""] * len(texts)
        for text, reason in zip(texts, told, strict=True):
            yield Line(text, reason or _PLACES[place])


def _turns(way: FloatArray) -> list[tuple[float, float]]:
    """Return the places between the ends of a way."""
    return [(float(x), float(y)) for x, y in way[1:-1]]


def _shifted(path: Path, origin: tuple[float, float]) -> Path:
    return path if origin == (0.0, 0.0) else Path(path.vertices - [*origin, 0.0], closed=path.closed)


def _reason(piece: Stretch, is_arc: bool) -> str:
    shape = "arc" if is_arc else "line"
    slower = f", at {100.0 * piece.factor:.0f} percent of the feed" if piece.factor != 1.0 else ""
    if piece.coasts:
        return f"{shape} of the over-burn, the arc out: the torch moves on in its own kerf"
    down = ", coming down to cutting height" if piece.heights is not None else ""
    return f"{shape} of the {piece.role}{slower}{down}"


def _deletable(text: CutText) -> CutText:
    """Return a cut whose blocks all begin with a slash; remarks stay."""

    def slashed(lines: Sequence[Line]) -> tuple[Line, ...]:
        return tuple(
            line if line.text.startswith(("(", "/")) else line._replace(text=f"/{line.text}")
            for line in lines
        )

    return CutText(
        travel=slashed(text.travel),
        from_home=slashed(text.from_home),
        start=slashed(text.start),
        moves=slashed(text.moves),
        end=slashed(text.end),
        relative=slashed(text.relative),
        home=text.home,
    )
