"""A server of the page in a thread, for tests and benchmarks."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import httpx
import uvicorn

from cutplan.page import page_app
from cutplan.page.running import listening_on


class Served:
    """The page of a folder while it is served."""

    def __init__(self, folder: Path, token: str | None = None) -> None:
        self.folder = folder
        self._socket = listening_on("127.0.0.1", 0)
        self.host = f"127.0.0.1:{self._socket.getsockname()[1]}"
        self.address = f"http://{self.host}"
        app = page_app(folder, frozenset({self.host}), token=token)
        config = uvicorn.Config(app, log_level="error", ws="none", server_header=False)
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [self._socket]}, daemon=True
        )
        self._thread.start()
        while not self._server.started:
            time.sleep(0.01)

    def client(self, **more: object) -> httpx.Client:
        headers = {"Origin": self.address, "X-Cutplan": "1"}
        return httpx.Client(
            **{"base_url": self.address, "headers": headers, "timeout": 60.0, "trust_env": False, **more}
        )

    def opened(self, client: httpx.Client, job: str = "hand.toml") -> dict:
        client.post(f"/api/jobs/{job}/open", json={})
        while client.get(f"/api/jobs/{job}").json()["state"] == "busy":
            time.sleep(0.02)
        return client.get(f"/api/jobs/{job}/plan").json()

    def close(self) -> None:
        self._server.should_exit = True
        self._thread.join(30)
