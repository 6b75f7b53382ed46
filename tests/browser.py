"""Runs the notebooks in a real JupyterLab, in a real browser, and takes pictures of what it shows.

A development tool, not part of the suite. Needs a ``chromium`` and

    uv pip install playwright
    nice .venv/bin/python tests/browser.py [NOTEBOOK ...] [--out DIR]

Each notebook is opened in a copy of its own and run from the top twice: once cold, once with what
the first run kept. Prints seconds of each, the seconds of one core that its kernel took (they tell
a slow notebook from a busy machine), and what went wrong; the pictures of the second run are left
in DIR, by default ``browser/`` in the temporary folder. Exit status 1 when a cell failed.
"""

import argparse
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

import psutil
from chromium import FLAGS
from playwright.sync_api import sync_playwright

from lakekit.resources import notebooks_folder

TOKEN = "only-for-this-run"
WIDTH, SLICE, TALLEST = 1200, 1500, 16000  # px
LONGEST = 900  # s for one notebook
PLACES = ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR", "HOME")
READY = "() => window.jupyterapp?.shell?.currentWidget?.sessionContext?.session?.kernel"
RUN = "() => { window.jupyterapp.commands.execute('notebook:run-all-cells'); }"
# code cells still to run; what the kernel complained of
STATE = """() => {
    const cells = window.jupyterapp.shell.currentWidget.content.model.cells;
    let left = 0; const wrong = [], said = [];
    for (let i = 0; i < cells.length; i++) {
        const cell = cells.get(i).toJSON();
        if (cell.cell_type !== 'code' || !cell.source.length) continue;
        if (cell.execution_count === null) left += 1;
        for (const out of cell.outputs)
            if (out.output_type === 'error') wrong.push(out.ename + ': ' + out.evalue);
            else if (out.name === 'stderr') said.push([].concat(out.text).join(''));
    }
    const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
    return {left, wrong, said, status: kernel.status};
}"""
TOP = """() => {
    window.jupyterapp.shell.currentWidget.content.activeCellIndex = 0;
    document.querySelectorAll('.jp-WindowedPanel-outer').forEach(panel => { panel.scrollTop = 0; });
}"""
HEIGHT = """() => Math.max(...[...document.querySelectorAll('.jp-WindowedPanel-outer')]
    .map(panel => panel.scrollHeight))"""


def start_server(folder, home):
    """A JupyterLab of this interpreter on a folder, and its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {**os.environ, **{name: str(home / name.lower()) for name in PLACES}}
    (home / "home").mkdir(parents=True)
    options = {
        "ServerApp.port": port, "ServerApp.port_retries": 0, "ServerApp.open_browser": False,
        "ServerApp.root_dir": folder, "IdentityProvider.token": TOKEN,
        "LabApp.expose_app_in_browser": True, "LabApp.news_url": "", "ServerApp.allow_root": True,
        "LabApp.check_for_updates_class": "jupyterlab.NeverCheckForUpdate",
    }  # fmt: skip
    command = [sys.executable, "-m", "jupyterlab", *(f"--{k}={v}" for k, v in options.items())]
    with open(home / "server.log", "wb") as log:
        process = subprocess.Popen(command, env=environment, stdout=log, stderr=subprocess.STDOUT)
    address = f"http://127.0.0.1:{port}"
    for _ in range(240):
        if process.poll() is None:
            try:
                ask(address, "/api/status")
                return process, address
            except OSError:
                time.sleep(0.5)
    process.kill()
    raise SystemExit((home / "server.log").read_text()[-2000:])


def ask(address, path, method="GET"):
    """What the server answers, as data."""
    headers = {"Authorization": f"token {TOKEN}"}
    request = urllib.request.Request(address + path, headers=headers, method=method)
    with urllib.request.urlopen(request, timeout=60) as answer:
        text = answer.read()
    return json.loads(text) if text else None


def run(page, address, name):
    """Open a notebook, run it from the top: seconds, what failed, and what it said aside."""
    page.set_viewport_size({"width": WIDTH, "height": SLICE})
    page.goto(f"{address}/lab/tree/{name}?token={TOKEN}&reset")
    page.wait_for_function(READY, timeout=120_000)
    page.wait_for_timeout(1500)
    began = time.monotonic()
    page.evaluate(RUN)
    while True:
        page.wait_for_timeout(250)
        state = page.evaluate(STATE)
        seconds = time.monotonic() - began
        if not state["left"] and state["status"] == "idle":
            return seconds, state["wrong"], state["said"]
        if seconds > LONGEST or (state["wrong"] and state["status"] == "idle" and seconds > 5):
            return seconds, [*state["wrong"], f"{state['left']} cells not run"], state["said"]


def picture(page, name, out):
    """The notebook from top to bottom, in slices."""
    page.evaluate("() => window.jupyterapp.commands.execute('application:toggle-left-area')")
    page.set_viewport_size({"width": WIDTH, "height": TALLEST})
    page.wait_for_timeout(2000)
    page.evaluate(TOP)
    page.wait_for_timeout(1000)
    height = min(TALLEST, page.evaluate(HEIGHT) + 120)
    for number, top in enumerate(range(0, height, SLICE), 1):
        clip = {"x": 0, "y": top, "width": WIDTH, "height": min(SLICE, height - top)}
        page.screenshot(path=out / f"{name}-{number}.png", clip=clip)


def computed(process):
    """Seconds of one core that a server's kernels have taken, and what they started."""
    kernels = psutil.Process(process.pid).children(recursive=True)
    return sum(sum(kernel.cpu_times()[:4]) for kernel in kernels)


def close(address):
    """End every kernel, so that the next run starts from nothing."""
    for session in ask(address, "/api/sessions"):
        ask(address, f"/api/sessions/{session['id']}", "DELETE")


def main():
    """Run and picture the notebooks named, or all."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("notebooks", nargs="*")
    asked.add_argument("--out", type=Path, default=Path(tempfile.gettempdir()) / "browser")
    asked.add_argument("--chromium", default=shutil.which("chromium"))
    given = asked.parse_args()
    names = given.notebooks or sorted(path.stem for path in notebooks_folder().glob("*.ipynb"))
    given.out.mkdir(parents=True, exist_ok=True)
    place = Path(tempfile.mkdtemp(prefix="browser-"))
    folder = place / "notebooks"
    folder.mkdir()
    for name in names:
        shutil.copy(notebooks_folder() / f"{name}.ipynb", folder)
    process, address = start_server(folder, place / "jupyter")
    failed = False
    try:
        with sync_playwright() as player:
            browser = player.chromium.launch_persistent_context(
                place / "profile", executable_path=given.chromium, args=list(FLAGS)
            )
            page = browser.new_page()
            for name in names:
                fresh = (folder / f"{name}.ipynb").read_bytes()
                told = []
                for _ in ("cold", "warm"):
                    (folder / f"{name}.ipynb").write_bytes(fresh)
                    seconds, wrong, said = run(page, address, f"{name}.ipynb")
                    told.append(f"{seconds:.1f} s ({computed(process):.1f} s computed)")
                    if wrong:
                        break
                    if len(told) == 1:
                        close(address)
                picture(page, name, given.out)
                close(address)
                failed |= bool(wrong)
                print(f"{name}: {', '.join(told)}", *wrong, *said, flush=True)
            browser.close()
    finally:
        process.terminate()
        process.wait(timeout=30)
        shutil.rmtree(place, ignore_errors=True)
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
