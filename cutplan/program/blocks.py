"""Blocks of motion words, with the control's memory of what it has been told.

What moves there are comes from `rounding`; which lines stand between them from `writer`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from cutplan.program.postprocessor import PostProcessor
from cutplan.program.rounding import Arc, Move

__all__ = ["Blocks", "Line"]


class Line(NamedTuple):
    """A line of a program, what it is for, and whether a cut begins with it."""

    text: str
    why: str
    begins_cut: bool = False


class Blocks:
    """Writes motion blocks and keeps what a control remembers from one to the next.

    Parameters
    ----------
    post : PostProcessor
    relative : bool
        Distances from point to point, counted from the place where the blocks begin.
    """

    def __init__(self, post: PostProcessor, *, relative: bool = False) -> None:
        self._post = post
        self._words = post.settings.words
        self._form = post.settings.arcs.form
        self._motion = self._feed = ""
        self._place: tuple[int, int] | None = (0, 0) if relative else None
        self._height: int | None = None
        self.relative = relative

    def forget(self) -> None:
        """Forget motion and feed, so that the next block says them again."""
        self._motion = self._feed = ""

    def lose_place(self) -> None:
        """Forget everything, so that the next block says all of its words."""
        self.forget()
        self._place = None

    def rapid(self, x: int, y: int, head: Sequence[str] = ()) -> str | None:
        """Return a rapid to a place in steps, with words of the head; None where it stands so already."""
        if (x, y) == self._place and not head:
            return None
        return self._post.block([*self._motion_word("G0"), *self._target(x, y, everything=bool(head)), *head])

    def stand_at(self, height: int) -> None:
        """Take the torch to stand at a height in steps, which the next ones are counted from."""
        self._height = height

    def feed_move(self, move: Move, feed: str, height: int | None = None, head: Sequence[str] = ()) -> str:
        """Return a line or an arc at a feed given as text, up or down to a height, with words of the head."""
        arc = move.arc
        code = "G1" if arc is None else ("G3" if arc.sweep > 0.0 else "G2")
        words = self._motion_word(code)
        words += self._target(move.x, move.y, everything=arc is not None)
        words += [*self._upright(height), *head]
        if arc is not None:
            words += self._centre(arc)
        if feed != self._feed or self._words.repeat_feed:
            words.append(f"F{feed}")
            self._feed = feed
        return self._post.block(words)

    def _motion_word(self, code: str) -> list[str]:
        if code == self._motion and not self._words.repeat_motion:
            return []
        self._motion = code
        return [code]

    def _target(self, x: int, y: int, *, everything: bool) -> list[str]:
        last = self._place
        self._place = (x, y)
        write = self._post.numbers.coordinate
        everything = everything or self._words.repeat_coordinates or last is None
        from_x, from_y = last if self.relative and last is not None else (0, 0)
        words = []
        if everything or last is None or x != last[0]:
            words.append(f"X{write(x - from_x)}")
        if everything or last is None or y != last[1]:
            words.append(f"Y{write(y - from_y)}")
        return words

    def _upright(self, height: int | None) -> list[str]:
        if height is None or height == self._height:
            return []
        origin = self._height if self.relative and self._height is not None else 0
        self._height = height
        return [f"Z{self._post.numbers.coordinate(height - origin)}"]

    def _centre(self, arc: Arc) -> list[str]:
        numbers = self._post.numbers
        if self._form == "radius":
            return [f"R{numbers.coordinate(arc.radius)}"]
        x, y = arc.absolute if self._form == "absolute" else arc.centre
        return [f"I{numbers.centre(x)}", f"J{numbers.centre(y)}"]
