"""A long random history of plan, cut, spoil, undo and re-plan never loses or invents a part or a plate."""

import itertools
import random
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from cutplan.base.errors import StockError
from cutplan.stock import Batch, Demanded, Inventory, Piece, PlannedMark

WANTED = {"web": 60, "gusset": 40}
STEPS = 500


class Shop:
    """An inventory beside what a clerk with a pencil would have written down."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.stock = Inventory(folder / "stock.db", author="clerk")
        self.numbers = itertools.count(1)
        self.pieces: dict[str, str] = {}
        self.parts: dict[str, tuple[str, str]] = {}  # mark: part, state
        self.plans: dict[str, tuple[list[str], list[str]]] = {}  # standing plan: labels, marks
        self.folders: dict[str, str] = {}
        self.undoable: list[tuple[int, dict[str, str], dict[str, tuple[str, str]]]] = []

    def receive(self, count: int) -> None:
        labels = [f"P{next(self.numbers)}" for _ in range(count)]
        self.stock.add([Piece(label, 1000, 500, 10, "S355", "mild steel") for label in labels])
        self._changed({label: "" for label in labels}, {})
        self.pieces |= dict.fromkeys(labels, "in rack")

    def plan(self, dice: random.Random, folder: str, written: bool) -> None:
        """Plan what is still owed onto one free plate, in the place of the folder's plan."""
        replaces = self.folders.get(folder)
        held = self.plans.get(replaces or "", ([], []))[0]
        free = [label for label, state in self.pieces.items() if state == "in rack" or label in held]
        free = [label for label in free if self.pieces[label] in ("in rack", "reserved")]
        owed = [part for part in WANTED for _ in range(self.open(part, replaces))]
        if not free or not owed:
            return
        name, label = f"plan {next(self.numbers)}", dice.choice(sorted(free))
        parts = dice.sample(owed, min(len(owed), dice.randint(1, 6)))
        marks = {f"M{next(self.numbers)}": part for part in parts}
        batch = Batch(
            "job", tuple(Demanded(part, count) for part, count in WANTED.items()),
            tuple(PlannedMark(m, p, n, label) for n, (m, p) in enumerate(marks.items(), 1)), True,
        )  # fmt: skip
        self.stock.reserve(name, [label], instead_of=replaces, folder=self.folder / folder, batch=batch)
        if not written:
            self.stock.undo(name)
            self.parts |= {mark: (part, "dropped") for mark, part in marks.items()}
            return
        self.stock.settle(name)
        self._drop(replaces)
        self.pieces[label] = "reserved"
        self.parts |= {mark: (part, "planned") for mark, part in marks.items()}
        self.plans[name], self.folders[folder] = ([label], list(marks)), name

    def cut(self, dice: random.Random) -> None:
        ready = [p for p, (labels, _) in self.plans.items() if self.pieces[labels[0]] == "reserved"]
        if not ready:
            return
        name = dice.choice(ready)
        (label,), marks = self.plans[name]
        rest = f"{label}-R"
        self.stock.confirm_cut(
            name, label, f"{label}.nc", [(m, self.parts[m][0], n) for n, m in enumerate(marks, 1)],
            [Piece(rest, 300, 300, 10, "S355", "mild steel")] if len(rest) < 20 else [], 1.0, "job",
        )  # fmt: skip
        touched = {m: self.parts[m] for m in marks}
        self._changed({label: "reserved", **({rest: ""} if len(rest) < 20 else {})}, touched)
        self.pieces |= {label: "cut", **({rest: "in rack"} if len(rest) < 20 else {})}
        self.parts |= {m: (part, "cut") for m, (part, state) in touched.items() if state == "planned"}

    def spoil(self, dice: random.Random) -> None:
        good = [m for m, (_, state) in self.parts.items() if state in ("cut", "planned")]
        if not good:
            return
        mark = dice.choice(good)
        self.stock.spoil(mark, "bent")
        self._changed({}, {mark: self.parts[mark]})
        self.parts[mark] = (self.parts[mark][0], "spoilt")

    def scrap(self, dice: random.Random) -> None:
        free = [label for label, state in self.pieces.items() if state == "in rack"]
        if free:
            label = dice.choice(free)
            self.stock.scrap(label)
            self._changed({label: "in rack"}, {})
            self.pieces[label] = "scrapped"

    def release(self, dice: random.Random) -> None:
        if self.folders:
            folder = dice.choice(sorted(self.folders))
            name = self.folders.pop(folder)
            self.stock.release(name)
            self._drop(name)

    def undo(self, dice: random.Random) -> None:
        """Take any change back; the pencil knows what must come of it, or that it is refused."""
        if not self.undoable:
            return
        number, pieces, parts = dice.choice(self.undoable)
        after_pieces, after_parts = self.after[number]
        allowed = all(self.pieces.get(k) == v for k, v in after_pieces.items()) and all(
            self.parts.get(k) == v for k, v in after_parts.items()
        )
        try:
            self.stock.take_back(number)
        except StockError:
            assert not allowed or self.touched_again(number)
            return
        assert allowed
        self.undoable = [each for each in self.undoable if each[0] != number]
        standing = {m: name for name, (_, marks) in self.plans.items() for m in marks}
        plates = {label for labels, _ in self.plans.values() for label in labels}
        for label, state in pieces.items():
            if not state:
                del self.pieces[label]
            else:
                self.pieces[label] = "in rack" if state == "reserved" and label not in plates else state
        for mark, (part, state) in parts.items():
            self.parts[mark] = (part, "dropped" if state == "planned" and mark not in standing else state)

    def open(self, part: str, replaces: str | None) -> int:
        mine = self.plans.get(replaces or "", ([], []))[1]
        done = sum(p == part and (s == "cut" or (s == "planned" and m not in mine))
                   for m, (p, s) in self.parts.items())  # fmt: skip
        return max(0, WANTED[part] - done)

    after: dict[int, tuple[dict[str, str], dict[str, tuple[str, str]]]]

    def _changed(self, pieces: dict[str, str], parts: dict[str, tuple[str, str]]) -> None:
        self.undoable.append((self.stock.changes(1)[0].number, pieces, parts))

    def touched_again(self, number: int) -> bool:
        """Whether a piece went another way and came back, or a later change touched the same part.

        Booking out writes its plate to spoilt parts of its plan too, whose state stays.
        """
        pieces, parts = self.after[number]
        later = {mark for n, (_, marks) in self.after.items() if n > number for mark in marks}
        return any(label in self.pieces for label in pieces) or bool(later & set(parts))

    def noted(self) -> None:
        """Write down how things stand right behind a change, for the question whether it may go back."""
        self.after = getattr(self, "after", {})
        for number, pieces, parts in self.undoable:
            if number not in self.after:
                self.after[number] = (
                    {label: self.pieces[label] for label in pieces}, {m: self.parts[m] for m in parts},
                )  # fmt: skip

    def _drop(self, name: str | None) -> None:
        labels, marks = self.plans.pop(name or "", ([], []))
        for label in labels:
            if self.pieces[label] == "reserved" and not any(
                label in other for other, _ in self.plans.values()
            ):
                self.pieces[label] = "in rack"
        for mark in marks:
            if self.parts[mark][1] == "planned":
                self.parts[mark] = (self.parts[mark][0], "dropped")

    def holds(self) -> None:
        """Compare inventory and pencil."""
        assert {p.label: p.state for p in self.stock.pieces()} == self.pieces
        assert {m.mark: (m.part, m.state) for m in self.stock.marks()} == self.parts
        for owing in self.stock.owings("job"):
            counts = Counter(state for part, state in self.parts.values() if part == owing.part)
            assert (owing.planned, owing.cut, owing.spoilt) == (
                counts["planned"], counts["cut"], counts["spoilt"])  # fmt: skip
            assert owing.owed == max(0, owing.wanted - owing.cut)


def step(shop: Shop, dice: random.Random) -> None:
    """Do one thing that a shop does."""
    act = dice.choice(
        ("receive", "plan", "plan", "plan", "cut", "cut", "spoil", "scrap", "release", "undo", "undo")
    )
    if act == "receive":
        shop.receive(dice.randint(1, 3))
    elif act == "plan":
        shop.plan(dice, dice.choice(("one", "two", "three")), dice.random() < 0.8)
    else:
        getattr(shop, act)(dice)
    shop.noted()


class History(RuleBasedStateMachine):
    """Hypothesis chooses what happens next."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.shop = Shop(Path(self.folder.name))

    @rule(seeds=st.lists(st.integers(0, 10**6), min_size=20, max_size=20))
    def things_happen(self, seeds: list[int]) -> None:
        for seed in seeds:
            step(self.shop, random.Random(seed))

    @invariant()
    def inventory_and_pencil_agree(self) -> None:
        self.shop.holds()

    def teardown(self) -> None:
        self.shop.stock.close()
        self.folder.cleanup()


# Rules of 20 steps each: 500 steps a history.
History.TestCase.settings = settings(
    max_examples=2, stateful_step_count=STEPS // 20, deadline=None,
    suppress_health_check=list(HealthCheck), derandomize=True,
)  # fmt: skip
TestRandomHistory = History.TestCase


def test_a_seeded_history_agrees_at_every_step(tmp_path: Path) -> None:
    shop, seen = Shop(tmp_path), set()
    for seed in range(150):
        step(shop, random.Random(seed))
        shop.holds()
        seen |= {state for _, state in shop.parts.values()} | set(shop.pieces.values())
    assert seen == {"cut", "spoilt", "dropped", "planned", "in rack", "reserved", "scrapped"}
    assert sum(change.act == "taken back" for change in shop.stock.changes()) > 5


KILLED = """
import random, sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
from test_random_history import Shop, step
shop = Shop(Path(sys.argv[2]))
for seed in range(500):
    step(shop, random.Random(seed))
    print(seed, flush=True)
"""


def contents(shop: Shop) -> object:
    pieces = [(p.label, p.state, p.plan) for p in shop.stock.pieces()]
    return pieces, shop.stock.marks(), [(c.act, c.undoes) for c in shop.stock.changes()]


@pytest.mark.parametrize("after", [3, 17, 41])
def test_a_history_killed_anywhere_goes_on_from_where_it_was(tmp_path: Path, after: int) -> None:
    """The killed inventory is one that the same steps make without a kill, to a change."""
    (tmp_path / "killed").mkdir()
    command = [sys.executable, "-c", KILLED, str(Path(__file__).parent), str(tmp_path / "killed")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as run:
        assert run.stdout is not None
        for line in run.stdout:
            if int(line) >= after:
                break
        run.send_signal(signal.SIGKILL)
        done = [*map(int, run.stdout)]
    last = done[-1] if done else after
    with Inventory(tmp_path / "killed" / "stock.db") as stock:
        killed = [p.label for p in stock.pieces()], [(c.act, c.undoes) for c in stock.changes()]
    (tmp_path / "whole").mkdir()
    shop = Shop(tmp_path / "whole")
    journals = []
    for seed in range(last + 2):
        step(shop, random.Random(seed))
        journals.append([(c.act, c.undoes) for c in shop.stock.changes()])
    whole = journals[-1]
    # Newest first: what the killed one did is the older end of the same story, every step told of in it.
    assert killed[1] == whole[len(whole) - len(killed[1]) :]
    assert len(killed[1]) >= len(journals[last])
