"""Work is given out so that what is due first is cut first; small shops are held against every possible order."""

import itertools
import math
import random
from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest

from cutplan.base.errors import InputError
from cutplan.scheduling import Shop, Table, Work, give_out, load_shop, next_start, read_shop_file, read_works

MONDAY = datetime(2027, 1, 11, 6, 0)
WEEKDAYS = dict.fromkeys(range(5), ((time(6), time(14)),))


def table(name: str, **changes: object) -> Table:
    fields: dict[str, object] = {"processes": ("plasma",), "travel": (6000.0, 2000.0), "hours": WEEKDAYS}
    return Table(name, **{**fields, **changes})  # type: ignore[arg-type]


def work(name: str, minutes: float, due: int | None = None, **changes: object) -> Work:
    day = None if due is None else (MONDAY + timedelta(days=due)).date()
    fields: dict[str, object] = {"process": "plasma", "thickness": 10.0, "length": 3000.0, "width": 1500.0}
    return Work(name, minutes=minutes, due=day, **{**fields, **changes})  # type: ignore[arg-type]


def random_shop(dice: random.Random) -> tuple[Shop, list[Work]]:
    """One to three tables, up to six works, so that every order of them can be tried."""
    tables = []
    for n in range(dice.randint(1, 3)):
        processes = dice.choice((("plasma",), ("oxyfuel",), ("plasma", "oxyfuel"), ("plasma", "oxyfuel")))
        hours = dice.choice((((time(6), time(14)),), ((time(6), time(12)), (time(13), time(18)))))
        days = range(dice.randint(3, 6))
        tables.append(table(f"T{n}", processes=processes, hours=dict.fromkeys(days, hours),
                            change_min=dice.choice((0.0, 20.0))))  # fmt: skip
    works = [
        work(f"W{n}", dice.randint(30, 300), dice.choice((None, 0, 0, 1, 2)),
             process=dice.choice(("plasma", "oxyfuel")), thickness=dice.choice((8.0, 10.0, 20.0)))
        for n in range(dice.randint(1, 6))
    ]  # fmt: skip
    return Shop("s", tuple(tables)), works


def end_of(at: datetime, minutes: float, of: Table) -> datetime:
    """Work a clerk's way: day by day, shift by shift, begun only where it is finished before the shift ends."""
    left = minutes
    for day in itertools.count():
        base = datetime.combine(MONDAY.date() + timedelta(days=day), time())
        for begin, end in of.hours.get(base.weekday(), ()):
            start = max(at, base.replace(hour=begin.hour, minute=begin.minute))
            last = base.replace(hour=end.hour, minute=end.minute)
            if start + timedelta(minutes=left) <= last:
                return start + timedelta(minutes=left)
    raise AssertionError


def best_of_all(shop: Shop, works: list[Work]) -> tuple[float, float]:
    """Return the least lateness, and the least span with it, over every order on every table."""
    known: dict[tuple[str, tuple[int, ...]], tuple[float, float]] = {}

    def best_on(of: Table, own: tuple[int, ...]) -> tuple[float, float]:
        key = (of.name, own)
        if key not in known:
            # Least late first; of these the one that is done first.
            known[key] = min(
                one_order(of, [works[n] for n in order]) for order in itertools.permutations(own)
            )
        return known[key]

    best = (math.inf, math.inf)
    for places in itertools.product(range(len(shop.tables)), repeat=len(works)):
        if any(shop.tables[t].refusal(w) for t, w in zip(places, works, strict=True)):
            continue
        each = [
            best_on(of, tuple(n for n, t in enumerate(places) if t == k)) for k, of in enumerate(shop.tables)
        ]
        best = min(best, (round(sum(late for late, _ in each), 6), round(max(span for _, span in each), 6)))
    return best


def one_order(of: Table, order: list[Work]) -> tuple[float, float]:
    at, before, late = MONDAY, None, 0.0
    for w in order:
        change = of.change_min if before not in (None, (w.process, w.thickness)) else 0.0
        at, before = end_of(at, w.minutes + change, of), (w.process, w.thickness)
        if w.due is not None:
            limit = datetime.combine(w.due + timedelta(days=1), time())
            late += max(0.0, (at - limit).total_seconds() / 60.0)
    return late, (at - MONDAY).total_seconds() / 60.0


def test_small_shops_are_as_good_as_the_best_of_all_orders_or_say_their_gap() -> None:
    same = total = 0
    for seed in range(60):
        shop, works = random_shop(random.Random(seed))
        works = [w for w in works if any(t.refusal(w) is None for t in shop.tables)][:5]
        if not works:
            continue
        found, (late, span) = give_out(works, shop, MONDAY, seed=1), best_of_all(shop, works)
        total += 1
        assert found.late_bound_min <= late + 1e-6, seed
        assert found.late_min >= late - 1e-6, seed
        assert found.late_min - found.gap_late_min <= late + 1e-6, seed
        if found.late_min <= late + 1e-6:
            same += 1
            # The bound on the span holds for every schedule, so for the best one as well.
            assert found.span_bound_min <= span + 1e-6, seed
        else:
            assert found.gap_late_min >= found.late_min - late - 1e-6, seed
    assert same >= 0.95 * total, (same, total)


def test_what_is_due_first_is_cut_first() -> None:
    shop = Shop("s", (table("T"),))
    days = give_out([work("a", 60, 3), work("b", 60, 1), work("c", 60), work("d", 60, 0)], shop, MONDAY)
    assert [each.work.name for each in days.booked] == ["d", "b", "a", "c"]
    assert days.late_min == 0.0
    assert days.booked[0].start == MONDAY


def test_a_work_that_does_not_end_in_its_shift_begins_with_the_next() -> None:
    days = give_out([work("a", 300, 0), work("b", 300, 1)], Shop("s", (table("T"),)), MONDAY)
    assert days.booked[1].start == MONDAY + timedelta(days=1)
    # Longer than any shift, it goes on over the nights; no hours are worked at a weekend.
    long = give_out([work("a", 8 * 60 * 5 + 30)], Shop("s", (table("T"),)), MONDAY)
    assert long.booked[0].end == datetime(2027, 1, 18, 6, 30)
    off = Shop("s", (table("T"),), frozenset({date(2027, 1, 18)}))
    assert give_out([work("a", 8 * 60 * 5 + 30)], off, MONDAY).booked[0].end == datetime(2027, 1, 19, 6, 30)


def test_a_table_gets_only_what_it_can_cut_and_the_rest_is_said() -> None:
    shop = Shop("s", (
        table("small", travel=(2000.0, 1000.0)), table("flame", processes=("oxyfuel",), thickness=(20.0, 200.0)),
        table("plasma", max_current_a=200.0, crane_kg=900.0),
    ))  # fmt: skip
    works = [work("a", 10), work("b", 10, process="oxyfuel", thickness=40.0), work("c", 10, current_a=300.0),
             work("d", 10, process="oxyfuel"), work("e", 10, length=1500.0, width=900.0, mass_kg=1000.0)]  # fmt: skip
    days = give_out(works, shop, MONDAY)
    assert {each.work.name: each.table for each in days.booked} == {"a": "plasma", "b": "flame", "e": "small"}
    told = {w.name: why for w, why in days.refused}
    assert "small travels 2000 × 1000 mm only" in told["c"] and "plasma supplies 200 A only" in told["c"]
    assert "flame takes 20 to 200 mm" in told["d"]


def test_changing_over_costs_its_minutes_and_is_kept_small() -> None:
    shop = Shop("s", (table("T", change_min=30.0),))
    works = [work(f"w{n}", 20, 0, thickness=10.0 if n % 2 else 20.0) for n in range(8)]
    days = give_out(works, shop, MONDAY)
    assert [each.change_min for each in days.booked].count(30.0) == 1
    assert days.busy["T"] == pytest.approx((8 * 20 + 30) / (8 * 20 + 30))


def test_what_is_late_says_why() -> None:
    shop = Shop("s", (table("T"),))
    days = give_out(
        [work("a", 300, 0), work("b", 300, 0), work("long", 600, 0), work("old", 5, -2)], shop, MONDAY
    )
    assert "due before the start" in days.reasons["old"]
    assert "even alone and at once" in days.reasons["long"]
    late = [name for name in ("a", "b") if name in days.reasons]
    assert late and all("manned till then are 8.0 h" in days.reasons[name] for name in late)
    assert days.late_bound_min <= days.late_min


def big_shop(dice: random.Random, count: int) -> tuple[Shop, list[Work]]:
    """Four tables, two of them for plasma alone, and many works."""
    tables = [
        table(f"T{n}", processes=(("plasma",), ("plasma", "oxyfuel"))[n % 2], change_min=10.0)
        for n in range(4)
    ]
    works = [
        work(f"w{n}", dice.randint(5, 90), dice.randint(3, 16), process=dice.choice(("plasma", "plasma", "oxyfuel")),
             thickness=dice.choice((6.0, 10.0, 15.0, 20.0, 40.0)))
        for n in range(count)
    ]  # fmt: skip
    return Shop("s", tuple(tables)), works


def test_500_jobs_on_4_tables_are_given_out_within_the_trials() -> None:
    shop, works = big_shop(random.Random(7), 500)
    days = give_out(works, shop, MONDAY, trials=4000)
    assert sorted(each.work.name for each in days.booked) == sorted(each.name for each in works)
    for name in ("T0", "T1", "T2", "T3"):
        own = [each for each in days.booked if each.table == name]
        assert all(a.end <= b.start for a, b in itertools.pairwise(own))
    assert days.late_min >= days.late_bound_min - 1e-6
    assert days.span_min >= days.span_bound_min - 1e-6


def test_the_next_shift_is_found_from_any_hour() -> None:
    shop = Shop("s", (table("T"),))
    assert next_start(shop, datetime(2027, 1, 15, 15, 0)) == datetime(2027, 1, 18, 6, 0)
    assert next_start(shop, datetime(2027, 1, 15, 9, 30)) == datetime(2027, 1, 15, 9, 30)


SHOP = """
name = "the yard"
days_off = [2027-01-13]
[lifting]
one_person_kg = 20
[[table]]
name = "bay 1"
processes = ["plasma", "oxyfuel"]
travel = [6000, 2000]
hours = "06:00-14:00, 22:00-02:00"
days = ["mon", "tue"]
"""


def test_one_shop_file_serves_schedule_estimate_and_machine(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_text(SHOP + "[estimate]\nmargin = 0.2\n[machine]\nwater_table = false\n")
    known = read_shop_file(file)
    assert known.estimate is not None and known.estimate.margin == 0.2
    assert known.machine is not None and not known.machine.water_table
    file.write_text(SHOP + "[estimate]\nmargins = 0.2\n")
    with pytest.raises(InputError, match="margin"):
        read_shop_file(file)


def test_a_shop_file_says_tables_hours_and_what_may_be_lifted(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_text(SHOP)
    shop = load_shop(file)
    assert (shop.name, shop.days_off) == ("the yard", frozenset({date(2027, 1, 13)}))
    # The late shift of Monday ends on Tuesday at two.
    days = give_out([work("a", 470), work("b", 230)], shop, MONDAY)
    assert days.booked[1].end == datetime(2027, 1, 12, 1, 50)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('hours = "06:00-14:00, 22:00-02:00"', 'hours = "6-14"', "'6-14' are no hours"),
        ('hours = "06:00-14:00, 22:00-02:00"', 'hours = "06:00-14:00, 13:00-15:00"', "overlap"),
        ('days = ["mon", "tue"]', 'days = ["monday"]', "days"),
        ("travel = [6000, 2000]", "travel = [6000, 0]", "travel"),
        ("one_person_kg = 20", "one_person_kg = 60", "must not fall"),
        ("[[table]]", "[[tables]]", "tables"),
        ('name = "bay 1"', 'name = "bay\\u00071"', "control characters"),
    ],
)
def test_a_wrong_shop_file_is_refused_with_its_key(tmp_path: Path, old: str, new: str, told: str) -> None:
    file = tmp_path / "shop.toml"
    file.write_text(SHOP.replace(old, new, 1))
    with pytest.raises(InputError, match=told) as refused:
        load_shop(file)
    assert str(file) in str(refused.value)


def test_a_list_of_work_is_read_and_each_bad_row_named(tmp_path: Path) -> None:
    file = tmp_path / "work.csv"
    file.write_text("work;process;thickness;length;width;minutes;due;kit;qty\n"
                    "A;plasma;10;3000;1500;42,5;2027-01-12;frame;2\nB;flame;40;2000;1000;60;;;\n")  # fmt: skip
    first, second, third = read_works(file)
    assert (first.name, second.name, first.minutes, first.due, first.kits) == (
        "A-1", "A-2", 42.5, date(2027, 1, 12), ("frame",))  # fmt: skip
    assert (third.process, third.thickness) == ("oxyfuel", 40.0)
    file.write_text(
        "work;process;thickness;length;width;minutes\nA;laser;10;3000;1500;42\nB;plasma;0;1;1;1\n"
    )
    with pytest.raises(
        InputError, match=r"(?s)2 things are wrong.*row 2: process 'laser'.*row 3: thickness 0"
    ):
        read_works(file)
