"""The page's server without a browser: edits through its interface, and everything that must not get in."""

from __future__ import annotations

import contextlib
import json
import os
import random
import threading
import time
from pathlib import Path

import httpx
import psutil
import pytest
from hand_jobs import JOB, hand_job
from page_server import Served
from typer.testing import CliRunner

from cutplan.cli import app as command
from cutplan.editing import read_edits
from cutplan.page.guard import LARGEST_BODY, LARGEST_WORDS
from cutplan.stock import Inventory, Piece

HERE = "/api/jobs/hand.toml"


@pytest.fixture(scope="module")
def client(served):
    with served.client() as client:
        served.opened(client)
        yield client


def plan(client: httpx.Client) -> dict:
    return client.get(f"{HERE}/plan").json()


def bare(view: dict) -> dict:
    return {key: value for key, value in view.items() if key not in ("version", "undone", "releases")}


def random_edit(view: dict, rng: random.Random) -> dict:
    sheet = rng.choice(view["sheets"])
    part, copy, x, y, *_ = rng.choice(sheet["placements"])
    of = {"part": part, "copy": copy}
    return rng.choice([
        {"do": "move", **of, "at": [x + rng.uniform(-40, 40), y + rng.uniform(-40, 40)]},
        {"do": "move", **of, "at": [rng.uniform(100, 300), rng.uniform(100, 300)], "sheet": "PL-3"},
        {"do": "turn", **of, "by_deg": rng.choice([90, 180, 270])},
        {"do": "take off", **of},
        {"do": "pin", **of, "pinned": rng.random() < 0.6},
        {"do": "quantity", "part": part, "quantity": rng.randint(1, 5)},
        {"do": "start", **of, "contour": "outside", "at": [rng.uniform(0, 200), rng.uniform(0, 130)]},
        {"do": "tab", **of, "at": [rng.uniform(0, 200), 0.0]},
        {"do": "swap", **of, "with_part": "cover", "with_copy": 1},
        {"do": "order", "sheet": sheet["name"], "cuts": rng.sample([c["key"] for c in sheet["cuts"]], len(sheet["cuts"]))},
    ])  # fmt: skip


def test_random_edits_and_undoing_all_of_them_give_the_plan_back(client):
    rng, before = random.Random(7), plan(client)
    made, refused = 0, 0
    while made < 12:
        answer = client.post(f"{HERE}/edits", json=random_edit(plan(client), rng))
        if answer.status_code == 200:
            made += 1
        else:
            assert answer.status_code in (409, 422) and answer.json()["problem"]
            refused += 1
    assert refused
    last = plan(client)
    for _ in range(made):
        assert client.post(f"{HERE}/undo").status_code == 200
    assert bare(plan(client)) == bare(before)
    assert client.post(f"{HERE}/undo").status_code == 422
    for _ in range(made):
        assert client.post(f"{HERE}/redo").status_code == 200
    assert bare(plan(client)) == bare(last)


def test_the_release_writes_the_bytes_of_the_command_line(client, served, tmp_path):
    """After the random edits of the test before, or without any."""
    done = client.post(f"{HERE}/release", json={"who": "A. Foreman"})
    assert done.status_code == 200, done.text
    out = served.folder / "hand-plan"
    again = tmp_path / "again"
    edits = served.folder / "hand.edits.json"
    words = [
        "plan",
        str(served.folder / "hand.toml"),
        "--out",
        str(again),
        "--edits",
        str(edits),
        "--workers",
        "1",
    ]
    assert CliRunner().invoke(command, words).exit_code in (0, 1)
    names = sorted(path.name for path in again.iterdir())
    assert names == sorted(done.json()["files"])
    assert [
        n for n in names if not n.endswith(".xlsx") and (out / n).read_bytes() != (again / n).read_bytes()
    ] == []
    (entry, *_) = done.json()["releases"]
    assert entry["who"] == "A. Foreman" and entry["when"].startswith("20")


def test_an_edit_is_in_the_file_before_it_is_answered_and_a_new_server_has_it(client, served):
    count = len(read_edits(served.folder / "hand.edits.json").edits)
    view = plan(client)
    part, copy, *_ = view["sheets"][0]["placements"][0]
    edit = {"do": "pin", "part": part, "copy": copy, "pinned": not view["sheets"][0]["placements"][0][6]}
    assert client.post(f"{HERE}/edits", json=edit).status_code == 200
    assert len(read_edits(served.folder / "hand.edits.json").edits) == count + 1
    other = Served(served.folder)
    try:
        with other.client() as anew:
            assert bare(other.opened(anew)) == bare(plan(client))
    finally:
        other.close()


def test_a_file_that_the_tool_did_not_write_stays(served, client, tmp_path):
    foreign = served.folder / "hand-plan" / "notes.txt"
    foreign.write_text("mine")
    assert client.post(f"{HERE}/release", json={}).status_code == 200
    assert foreign.read_text() == "mine"
    taken = client.post("/api/new-job/hand.toml", json={"job": {"name": "x"}, "part": [], "plate": []})
    assert taken.status_code == 422 and 'name = "hand"' in (served.folder / "hand.toml").read_text()


@pytest.mark.parametrize("path", ["/", "/api/folder", "/static/main.js", f"{HERE}/plan"])
@pytest.mark.parametrize("host", ["evil.example", "evil.example:80", "127.0.0.1", "127.0.0.1:1", ""])
def test_a_request_by_another_name_is_turned_away(served, path, host):
    with httpx.Client(trust_env=False) as stranger:
        assert stranger.get(served.address + path, headers={"Host": host}).status_code in (400, 421)


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"X-Cutplan": "1"},
        {"X-Cutplan": "1", "Origin": "http://evil.example"},
        {"X-Cutplan": "1", "Origin": "null"},
        {"X-Cutplan": "1", "Origin": "HERE", "Sec-Fetch-Site": "cross-site"},
        {"Origin": "HERE"},
    ],
)
def test_a_change_from_another_page_is_turned_away(served, client, headers):
    before = (served.folder / "hand.edits.json").read_bytes()
    headers = {key: served.address if value == "HERE" else value for key, value in headers.items()}
    with httpx.Client(trust_env=False) as stranger:
        for path in (f"{HERE}/undo", f"{HERE}/release", f"{HERE}/edits", "/api/drawings/x.dxf"):
            assert stranger.post(served.address + path, headers=headers, content=b"{}").status_code == 403
    assert (served.folder / "hand.edits.json").read_bytes() == before


def test_every_answer_carries_the_policy_and_no_script_stands_in_a_page(client):
    for path in (
        "/",
        "/api/folder",
        "/static/main.js",
        "/jobs/hand.toml/playback/PL-1",
        "/jobs/hand.toml/labels",
        "/nowhere",
    ):
        answer = client.get(path)
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy and "script-src 'self';" in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        if answer.headers["content-type"].startswith("text/html"):
            inline = [s for s in answer.text.split("<script")[1:] if "src=" not in s.split(">")[0]]
            assert all('type="application/json"' in s.split(">")[0] for s in inline), path


@pytest.mark.parametrize(
    "name",
    ["../evil.dxf", "..%2Fevil.dxf", "..%5cevil.dxf", "%2Fetc%2Fpasswd.dxf", ".hidden.dxf", "a%00.dxf", "evil.toml", "evil.exe", "x.dxf.", "C:evil.dxf"],
)  # fmt: skip
def test_no_name_leads_out_of_the_folder(served, client, name):
    before = sorted(p.name for p in served.folder.parent.rglob("*"))
    assert client.post(f"/api/drawings/{name}", content=b"0").status_code in (404, 405, 422)
    assert sorted(p.name for p in served.folder.parent.rglob("*")) == before


@pytest.mark.parametrize("path", ["/static/../app.py", "/static/%2e%2e/app.py", "/api/jobs/..%2fhand.toml", "/api/jobs/%2e%2e/plan", "/api/jobs/pyproject.toml/plan"])  # fmt: skip
def test_no_address_leads_out_of_the_folder(served, path):
    import socket

    # Written by hand: clients straighten such paths out before they send them.
    host, port = served.host.split(":")
    with socket.create_connection((host, int(port)), timeout=10) as line:
        line.sendall(f"GET {path} HTTP/1.1\r\nHost: {served.host}\r\nConnection: close\r\n\r\n".encode())
        answer = b"".join(iter(lambda: line.recv(65536), b""))
    assert answer.split(b" ")[1] in (b"404", b"422"), answer[:200]


def test_a_link_out_of_the_folder_is_not_followed(served, client, tmp_path):
    (tmp_path / "secret.toml").write_text(JOB.replace('"hand"', '"secret"'))
    os.symlink(tmp_path / "secret.toml", served.folder / "link.toml")
    try:
        assert "link.toml" not in [job["name"] for job in client.get("/api/folder").json()["jobs"]]
        assert client.get("/api/jobs/link.toml/plan").status_code == 422
    finally:
        (served.folder / "link.toml").unlink()


def test_uploads_that_are_too_large_are_cut_off(served, client):
    assert client.post("/api/drawings/big.dxf", content=b"0" * (LARGEST_BODY + 1)).status_code == 413

    def endless():
        for _ in range(LARGEST_WORDS // 100_000 + 2):
            yield b"1" * 100_000

    # The server may hang up before all is sent.
    with contextlib.suppress(httpx.WriteError):
        assert client.post(f"{HERE}/edits", content=endless()).status_code == 413
    assert not (served.folder / "big.dxf").exists()


@pytest.mark.parametrize(
    "content",
    [b"", b"\x00" * 5000, b"0\nSECTION\n2\nENTITIES\n0\nLINE\n", b"<svg>" * 2000, b"PK\x03\x04" + b"x" * 999],
)
def test_what_is_no_drawing_does_not_enter_the_folder(served, client, content):
    answer = client.post("/api/drawings/bad.dxf", content=content)
    assert answer.status_code == 422 and answer.json()["problem"]
    assert not (served.folder / "bad.dxf").exists()


@pytest.mark.parametrize("content", [b"", b"[]", b"nope", b'{"do": "fly"}', b'{"do": "move", "part": "cover", "copy": 1, "at": [1e999, 0]}', b"[" * 100_000, b'{"do": 7}'])  # fmt: skip
def test_an_edit_that_makes_no_sense_is_answered_in_words(client, content):
    answer = client.post(f"{HERE}/edits", content=content)
    assert answer.status_code == 422 and answer.json()["problem"]


def test_a_thousand_requests_at_once_lose_nothing(served, client):
    before, memory = plan(client), psutil.Process().memory_info().rss
    statuses: list[int] = []

    def asking(number: int) -> None:
        with served.client() as own:
            for n in range(25):
                if n % 5 == 4:
                    pin = {"do": "pin", "part": "cover", "copy": 1 + number % 5, "pinned": n % 2 == 0}
                    statuses.append(own.post(f"{HERE}/edits", json=pin).status_code)
                else:
                    statuses.append(own.get("/api/folder").status_code)

    threads = [threading.Thread(target=asking, args=(n,)) for n in range(40)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(statuses) == 1000 and set(statuses) <= {200, 409, 503} and statuses.count(200) > 500
    after = plan(client)
    held = len(read_edits(served.folder / "hand.edits.json").edits)
    assert held == len(after["edits"]) >= len(before["edits"])
    assert psutil.Process().memory_info().rss - memory < 300e6


def test_with_a_token_nobody_gets_in_without_it(tmp_path):
    hand_job(tmp_path)
    page = Served(tmp_path, token="Ab-1_secret")
    try:
        with page.client() as client:
            assert client.get("/api/folder").status_code == 401
            assert client.get("/?token=Ab-1_secreT").status_code == 401
            answer = client.get("/?token=Ab-1_secret")
            cookie = answer.headers["set-cookie"]
            assert answer.status_code == 200 and "SameSite=Strict" in cookie and "HttpOnly" in cookie
            assert client.get("/api/folder").status_code == 200
        with page.client(cookies={"cutplan-page": "wrong"}) as client:
            assert client.get("/").status_code == 401
    finally:
        page.close()


def test_a_job_that_was_changed_since_is_not_released(tmp_path):
    hand_job(tmp_path)
    page = Served(tmp_path)
    try:
        with page.client() as client:
            page.opened(client)
            file = tmp_path / "hand.toml"
            file.write_text(file.read_text() + "\n# changed\n")
            answer = client.post(f"{HERE}/release", json={})
            assert answer.status_code == 422 and "changed" in answer.json()["problem"]
            assert not (tmp_path / "hand-plan").exists()
    finally:
        page.close()


def test_a_foreign_file_in_the_place_of_the_edits_stays(tmp_path):
    hand_job(tmp_path)
    (tmp_path / "hand.edits.json").write_text(json.dumps({"mine": True}))
    page = Served(tmp_path)
    try:
        with page.client() as client:
            client.post(f"{HERE}/open", json={})
            until = time.monotonic() + 60.0
            while (state := client.get(HERE).json())["state"] == "busy" and time.monotonic() < until:
                time.sleep(0.02)
            assert state["state"] == "wrong" and "schema" in state["problem"]
    finally:
        page.close()
    assert json.loads((tmp_path / "hand.edits.json").read_text()) == {"mine": True}


def test_the_command_says_what_is_missing(monkeypatch, tmp_path: Path):
    import importlib.util as util

    from cutplan.base.errors import InputError
    from cutplan.cli.page import page

    monkeypatch.setattr(util, "find_spec", lambda name: None)
    with pytest.raises(InputError, match=r"starlette and uvicorn.*cutplan\[page\]"):
        page(tmp_path)


def test_the_rack_is_shown_reserved_on_release_and_ticked_off_as_cut(tmp_path):
    with Inventory(tmp_path / "rack.db") as stock:
        stock.add([Piece("R-7", 500.0, 420.0, 10.0, "S355", "mild steel", heat="H1", location="bay 2")])
    first = JOB.index("[[plate]]")
    own = JOB[:first] + JOB[JOB.index("[[plate]]", first + 1) :].replace("quantity = 5", "quantity = 2")
    hand_job(tmp_path, own + '\n[stock]\ninventory = "rack.db"\n')
    page = Served(tmp_path)
    try:
        with page.client() as client:
            names = [sheet["name"] for sheet in page.opened(client)["sheets"]]
            assert "R-7-1" in names
            standing = client.get(f"{HERE}/standing").json()
            assert [piece["label"] for piece in standing["rack"]] == ["R-7"] and standing["rack"][0][
                "heat"
            ] == "H1"
            assert client.post(f"{HERE}/cut", json={"sheet": "R-7-1"}).status_code == 422
            assert client.post(f"{HERE}/release", json={"who": "C"}).status_code == 200
            standing = client.get(f"{HERE}/standing").json()
            assert standing["rack"][0]["state"] == "reserved"
            assert {row["part"]: row["planned"] for row in standing["owed"]}["cover"] == 2
            assert client.post(f"{HERE}/cut", json={"sheet": "R-7-1"}).json() == {"piece": "R-7"}
            after = {row["part"]: row for row in client.get(f"{HERE}/standing").json()["owed"]}
            assert sum(row["cut"] for row in after.values()) > 0
    finally:
        page.close()
