"""A notebook run as a user runs it: copied to a folder, through a real Jupyter server."""

import asyncio
import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
import uuid

import nbformat
import pytest

from lakekit.notebook.runner import read_notebook
from lakekit.resources import notebooks_folder

TOKEN = "only-for-this-test"


@pytest.fixture
def server(tmp_path):
    """A Jupyter server of this interpreter on a folder with one notebook: (address, folder)."""
    folder = tmp_path / "club"
    folder.mkdir()
    shutil.copy(notebooks_folder() / "tackle.ipynb", folder)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    places = ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR", "HOME")
    environment = {**os.environ, **{name: str(tmp_path / name.lower()) for name in places}}
    (tmp_path / "home").mkdir()
    environment["MPLBACKEND"] = "module://matplotlib_inline.backend_inline"
    with open(tmp_path / "server.log", "wb") as log:
        process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "jupyter_server",
                "--ip=127.0.0.1",
                f"--port={port}",
                "--ServerApp.port_retries=0",
                "--no-browser",
                "--allow-root",
                f"--IdentityProvider.token={TOKEN}",
                f"--ServerApp.root_dir={folder}",
            ],
            env=environment,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            yield _ready(f"127.0.0.1:{port}", process, tmp_path / "server.log"), folder
        finally:
            process.terminate()
            try:
                process.wait(timeout=15)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def _ready(address, process, log):
    for _ in range(120):
        if process.poll() is not None:
            break
        try:
            _ask(address, "/api/status")
        except OSError:
            time.sleep(0.25)
        else:
            return address
    pytest.fail(f"the Jupyter server did not start: {log.read_text()[-600:]}")


def _ask(address, path, body=None):
    request = urllib.request.Request(
        f"http://{address}{path}",
        data=None if body is None else json.dumps(body).encode(),
        headers={"Authorization": f"token {TOKEN}", "Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=60) as answer:
        return json.loads(answer.read())


async def _run(address, kernel, sources):
    """Messages of each source in turn: one list of (type, content) a cell."""
    from tornado.httpclient import HTTPRequest
    from tornado.websocket import websocket_connect

    channel = await websocket_connect(
        HTTPRequest(
            f"ws://{address}/api/kernels/{kernel}/channels?token={TOKEN}", request_timeout=60
        )
    )
    told = []
    for source in sources:
        name = uuid.uuid4().hex
        header = {"msg_id": name, "msg_type": "execute_request", "username": "", "session": name,
                  "date": "", "version": "5.3"}  # fmt: skip
        content = {"code": source, "silent": False, "store_history": True,
                   "user_expressions": {}, "allow_stdin": False, "stop_on_error": True}  # fmt: skip
        await channel.write_message(json.dumps({
            "header": header, "parent_header": {}, "metadata": {}, "content": content,
            "channel": "shell", "buffers": [],
        }))  # fmt: skip
        heard = []
        while True:
            message = json.loads(await asyncio.wait_for(channel.read_message(), 120))
            if message["parent_header"].get("msg_id") != name:
                continue
            kind = message["header"]["msg_type"]
            heard.append((kind, message["content"]))
            if kind == "status" and message["content"]["execution_state"] == "idle":
                break
        told.append(heard)
    channel.close()
    return told


def test_every_cell_runs_without_an_error_or_a_warning(server):
    address, folder = server
    path = folder / "tackle.ipynb"
    sources = [cell.source for cell in read_notebook(path).cells if cell.cell_type == "code"]
    content = _ask(address, "/api/contents/tackle.ipynb")["content"]
    nbformat.validate(nbformat.from_dict(content))
    session = _ask(
        address,
        "/api/sessions",
        {
            "path": "tackle.ipynb",
            "name": "tackle",
            "type": "notebook",
            "kernel": {"name": "python3"},
        },
    )
    told = asyncio.run(_run(address, session["kernel"]["id"], sources))
    assert len(told) == len(sources)
    shown = 0
    for source, heard in zip(sources, told, strict=True):
        for kind, content in heard:
            assert kind != "error", (source, content["evalue"])
            assert content.get("name") != "stderr", (source, content.get("text"))
            shown += kind in ("stream", "display_data", "execute_result")
    assert shown > 0
