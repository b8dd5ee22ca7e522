"""The server's addresses: each takes a request apart, asks a desk or the folder, and answers."""

from __future__ import annotations

import asyncio
import contextlib
import tempfile
from collections.abc import AsyncIterator, Awaitable, Callable
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from cutplan.base.errors import CutplanError, EditError, InputError
from cutplan.editing import edit_of
from cutplan.page.desk import Desk, WaitingError
from cutplan.page.guard import Guard, TooLargeError
from cutplan.page.shop import DRAWINGS, Shop, new_job_text
from cutplan.page.views import differences, plan_view, program_view, rack_view
from cutplan.planning import Handwork, book_out, check_drawings, check_job
from cutplan.record import Plan, PlannedSheet
from cutplan.report import batch_html, drawings_html, labels_html, playback_script, setup_sheet_html
from cutplan.stock import Inventory

__all__ = ["page_app"]

STATIC = Path(__file__).parent / "static"
Answer = Callable[[Request], Awaitable[Response]]


class Front:
    """The folder with the desks of its jobs, and what each address does."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self._desks: dict[str, Desk] = {}

    def desk(self, request: Request) -> Desk:
        """Return the desk of the job that an address names."""
        name = request.path_params["job"]
        if name not in self._desks:
            if name not in self.shop.jobs():
                raise InputError(f"there is no job {name[:80]!r} in the folder")
            self._desks[name] = Desk(self.shop, name)
        return self._desks[name]

    def work(self, request: Request) -> Handwork:
        """Return the plan of the job that an address names."""
        work = self.desk(request).work
        if work is None:
            raise InputError("the job is not planned yet", remedy="open it first")
        return work

    def close(self) -> None:
        """Let all desks finish."""
        for desk in self._desks.values():
            desk.close()

    # The folder.

    async def folder(self, request: Request) -> Response:
        """Tell of jobs and drawings."""
        return JSONResponse(
            {
                "folder": self.shop.folder.name,
                "only": None if self.shop.only is None else self.shop.only.name,
                "jobs": [self._status(name) for name in self.shop.jobs()],
                "drawings": self.shop.drawings(),
            }
        )

    def _status(self, name: str) -> dict[str, Any]:
        desk = self._desks.get(name)
        if desk is None:
            return {"name": name, "state": "closed"}
        state = "busy" if desk.busy else "wrong" if desk.problem else "open" if desk.work else "closed"
        return {
            "name": name, "state": state, "problem": desk.problem, "stage": desk.watch.stage,
            "share": desk.watch.share, "version": desk.version,
        }  # fmt: skip

    async def add_drawing(self, request: Request) -> Response:
        """Take a new drawing in: it is read in a process with limits before it is told of."""
        content = await request.body()
        name = request.path_params["name"]
        self.shop.file(name, DRAWINGS)

        def taken() -> dict[str, Any]:
            with tempfile.TemporaryDirectory(prefix="cutplan-page-") as aside:
                trial = Path(aside) / name
                trial.write_bytes(content)
                checked = check_drawings([trial])[0]
            told = [{"kind": f.kind, "words": str(f)} for f in checked.findings]
            if not checked.drawing.parts and not checked.drawing.sketches:
                raise InputError(told[0]["words"] if told else "nothing is drawn in it", where=name)
            self.shop.add(name, content)
            parts = [{"name": part.name, "drawn": part.drawn} for part in checked.drawing.parts]
            return {"name": name, "parts": parts, "findings": told, "stops": checked.stops}

        return JSONResponse(await run_in_threadpool(taken), 201)

    async def add_job(self, request: Request) -> Response:
        """Write a new job file from what was filled in."""
        data = await _json(request)
        text = await run_in_threadpool(new_job_text, data, self.shop.folder)
        self.shop.add(request.path_params["name"], text.encode(), (".toml",))
        return JSONResponse({"name": request.path_params["name"]}, 201)

    async def drawings_page(self, request: Request) -> Response:
        """Show drawings with their findings: the report's own page."""
        name = request.query_params.get("job")

        def made() -> str:
            if name:
                checked = check_job(self.shop.job(name))
            else:
                files = [self.shop.file(each, DRAWINGS) for each in self.shop.drawings()]
                checked = check_drawings(files) if files else []
            return drawings_html(
                [(each.drawing, each.findings) for each in checked], name or self.shop.folder.name
            )

        return HTMLResponse(await run_in_threadpool(made))

    # A job.

    async def status(self, request: Request) -> Response:
        """Tell what a desk does."""
        self.desk(request)
        return JSONResponse(self._status(request.path_params["job"]))

    async def open(self, request: Request) -> Response:
        """Begin to plan a job; the status tells how far it is."""
        desk = self.desk(request)
        if desk.work is None or (await _json(request)).get("anew"):
            desk.submit(desk.open)
        return JSONResponse(self._status(desk.name), 202)

    async def plan(self, request: Request) -> Response:
        """Tell a plan, whole."""
        desk, work = self.desk(request), self.work(request)
        view = await run_in_threadpool(plan_view, work)
        return JSONResponse({**view, "version": desk.version, "releases": desk.releases()[:20]})

    async def edit(self, request: Request) -> Response:
        """Make an edit."""
        desk, edit = self.desk(request), edit_of(await _json(request))
        await asyncio.wrap_future(desk.submit(lambda: desk.make(edit)))
        return await self.plan(request)

    async def undo(self, request: Request) -> Response:
        """Take the last edit back."""
        desk = self.desk(request)
        await asyncio.wrap_future(desk.submit(desk.undo))
        return await self.plan(request)

    async def redo(self, request: Request) -> Response:
        """Make again what was undone."""
        desk = self.desk(request)
        await asyncio.wrap_future(desk.submit(desk.redo))
        return await self.plan(request)

    async def improve(self, request: Request) -> Response:
        """Nest or order again around what is pinned."""
        desk, asked = self.desk(request), await _json(request)
        what, sheet = str(asked.get("what")), str(asked.get("sheet"))
        better = await asyncio.wrap_future(desk.submit(lambda: desk.improve(what, sheet)))
        plan = await run_in_threadpool(plan_view, self.work(request))
        return JSONResponse(
            {**plan, "version": desk.version, "better": better, "releases": desk.releases()[:20]}
        )

    async def stop(self, request: Request) -> Response:
        """End a search with the best found so far."""
        self.desk(request).watch.ending = True
        return JSONResponse({"ending": True})

    async def release(self, request: Request) -> Response:
        """Write the programs."""
        desk, asked = self.desk(request), await _json(request)
        who = str(asked.get("who", ""))[:80].strip()
        names = await asyncio.wrap_future(desk.submit(lambda: desk.release(who)))
        return JSONResponse({"files": names, "folder": desk.out.name, "releases": desk.releases()[:20]})

    async def program(self, request: Request) -> Response:
        """Tell a sheet's program, each line with its cut."""
        return JSONResponse(await run_in_threadpool(program_view, self._sheet(request)))

    async def compare(self, request: Request) -> Response:
        """Tell what the edits changed."""
        desk, work = self.desk(request), self.work(request)
        before = await asyncio.wrap_future(desk.submit(desk.begun))
        told = await run_in_threadpool(differences, before, work.plan)
        first = {s.name: _lies(s) for s in before.sheets}
        return JSONResponse({**told, "before_sheets": first})

    async def standing(self, request: Request) -> Response:
        """Tell what is owed, planned and cut of a job by its inventory."""
        job = self.work(request).job

        def asked() -> dict[str, Any]:
            if job.inventory is None or not job.inventory.exists():
                return {"inventory": False, "owed": [], "rack": []}
            with Inventory(job.inventory, make=False) as stock:
                owed = [vars(each) | {"owed": each.owed} for each in stock.owings(job.name)]
                return {"inventory": True, "owed": owed, "rack": rack_view(stock)}

        return JSONResponse(await run_in_threadpool(asked))

    async def cut(self, request: Request) -> Response:
        """Tick a released sheet off as cut."""
        desk, job = self.desk(request), self.work(request).job
        sheet = str((await _json(request)).get("sheet"))
        inventory = job.inventory
        if inventory is None:
            raise InputError(
                "the job takes no plates from an inventory, which would keep what is cut",
                remedy="[stock] inventory = true keeps it",
            )

        def booked() -> str:
            with Inventory(inventory) as stock:
                return book_out(stock, desk.out / "plan.json", sheet).piece

        return JSONResponse({"piece": await asyncio.wrap_future(desk.submit(booked))})

    # Pages of the report.

    def _sheet(self, request: Request) -> PlannedSheet:
        work, name = self.work(request), request.path_params["sheet"]
        found = next((sheet for sheet in work.plan.sheets if sheet.name == name), None)
        if found is None:
            raise InputError(f"there is no sheet {name[:80]!r}")
        return found

    async def playback(self, request: Request) -> Response:
        """Play a sheet: the report's own page and script."""
        sheet = self._sheet(request)
        alone = _plan_of(self.work(request).plan, sheet)
        return HTMLResponse(await run_in_threadpool(batch_html, alone, script="/report/playback.js"))

    async def playback_code(self, request: Request) -> Response:
        """Give the report's script."""
        return Response(playback_script(), media_type="text/javascript")

    async def setup(self, request: Request) -> Response:
        """Print a setup sheet."""
        plan = self.work(request).plan
        return HTMLResponse(await run_in_threadpool(setup_sheet_html, self._sheet(request), plan))

    async def labels(self, request: Request) -> Response:
        """Print labels."""
        return HTMLResponse(await run_in_threadpool(labels_html, self.work(request).plan))


def _lies(sheet: PlannedSheet) -> list[list[Any]]:
    return [
        [p.part.name, p.copy, p.pose.x, p.pose.y, p.pose.rotation_deg, p.pose.mirrored]
        for p in sheet.nested.placements
    ]


def _plan_of(plan: Plan, sheet: PlannedSheet) -> Plan:
    from dataclasses import replace

    return replace(plan, sheets=(sheet,), unplaced=(), total=sheet.estimate, findings=())


async def _json(request: Request) -> Any:
    try:
        data = await request.json()
    except (ValueError, RecursionError):
        raise InputError("the request is not JSON") from None
    if not isinstance(data, dict):
        raise InputError("the request is no table of keys")
    return data


def _told(answer: Answer) -> Answer:
    """Turn the package's errors into answers that the page shows."""

    async def answered(request: Request) -> Response:
        try:
            return await answer(request)
        except WaitingError:
            return JSONResponse({"problem": "busy"}, 503)
        except CutplanError as problem:
            told = {"problem": str(problem), "message": problem.message, "place": problem.place}
            return JSONResponse(told, 409 if isinstance(problem, EditError) else 422)

    return answered


def page_app(
    folder: Path, hosts: frozenset[str], *, only: Path | None = None, token: str | None = None
) -> Any:
    """Return the page as an ASGI application.

    Parameters
    ----------
    folder : Path
        That the page works in.
    hosts : frozenset of str
        Hosts, with their ports, that it is opened by: "127.0.0.1:8123".
    only : Path, optional
        The one job that is shown.
    token : str, optional
        Asked for, where other machines reach it.

    Returns
    -------
    ASGI application
    """
    front = Front(Shop(folder, only))

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        yield
        await run_in_threadpool(front.close)

    def index(request: Request) -> Response:
        return HTMLResponse((STATIC / "index.html").read_text(encoding="utf-8"))

    job = "/api/jobs/{job}"
    gets: dict[str, Answer] = {
        "/api/folder": front.folder, "/drawings.html": front.drawings_page, job: front.status,
        f"{job}/plan": front.plan, f"{job}/program/{{sheet}}": front.program, f"{job}/compare": front.compare,
        f"{job}/standing": front.standing, "/report/playback.js": front.playback_code,
        "/jobs/{job}/playback/{sheet}": front.playback, "/jobs/{job}/setup/{sheet}": front.setup,
        "/jobs/{job}/labels": front.labels,
    }  # fmt: skip
    posts: dict[str, Answer] = {
        "/api/drawings/{name}": front.add_drawing, "/api/new-job/{name}": front.add_job, f"{job}/open": front.open,
        f"{job}/edits": front.edit, f"{job}/undo": front.undo, f"{job}/redo": front.redo,
        f"{job}/improve": front.improve, f"{job}/stop": front.stop, f"{job}/release": front.release,
        f"{job}/cut": front.cut,
    }  # fmt: skip
    routes = [
        Route("/", index),
        *(Route(path, _told(answer)) for path, answer in gets.items()),
        *(Route(path, _told(answer), methods=["POST"]) for path, answer in posts.items()),
        Mount("/static", StaticFiles(directory=STATIC)),
    ]

    def too_large(request: Request, problem: Exception) -> Response:
        return JSONResponse({"problem": "the request is too large"}, 413)

    starlette = Starlette(routes=routes, lifespan=lifespan, exception_handlers={TooLargeError: too_large})
    return Guard(starlette, hosts, token)
