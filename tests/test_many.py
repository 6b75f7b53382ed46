"""Many lakes at once: the same outcomes however the work is spread; failures are one line."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import many_work
import pytest
from guide_helpers import short_demo

from lakekit.bench.drills.kills import MARK, marked
from lakekit.cli.main import main
from lakekit.club import read_club
from lakekit.errors import ClusterError
from lakekit.many.seasons import Season, season_guides, write_seasons
from lakekit.many.workers import crew
from lakekit.store import load_dataset


def run(function, items, shared=None, **how):
    with crew(**how) as each:
        return list(each(function, items, shared))


@pytest.fixture(scope="module")
def address():
    """A real scheduler with two worker processes of one thread, on the loopback address."""
    distributed = pytest.importorskip("distributed", reason="dask.distributed is not installed")
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0",
        host="127.0.0.1", silence_logs=50,
    )  # fmt: skip
    with cluster:
        yield cluster.scheduler_address


def test_one_process_goes_in_order_and_says_what_it_does():
    told = []
    made = run(many_work.double, [1, 2, 3], "all", progress=told.append)
    assert [outcome.value for outcome in made] == [("all", 2), ("all", 4), ("all", 6)]
    assert told == ["doubling 1", "doubling 2", "doubling 3"]


def test_processes_and_a_cluster_make_the_same(address):
    items = list(range(1, 8))
    wanted = {outcome.item: outcome for outcome in run(many_work.refuse_three, items)}
    assert wanted[3].problem == "lake 3: no weather. Bring some." and not wanted[3].ours
    assert wanted[4].problem == "ZeroDivisionError: a fault in two lines" and wanted[4].ours
    for how in ({"workers": 2}, {"scheduler": address}):
        made = run(many_work.refuse_three, items, **how)
        assert {outcome.item: outcome for outcome in made} == wanted


def test_workers_run_nothing_that_lies_in_the_working_folder(tmp_path, monkeypatch):
    for name in ("multiprocessing", "pickle", "numpy", "runpy"):
        (tmp_path / f"{name}.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'w')")
    monkeypatch.chdir(tmp_path)
    made = run(many_work.double, [1, 2], workers=2)
    assert sorted(outcome.value for outcome in made) == [(None, 2), (None, 4)]
    assert not (tmp_path / "ran").exists()
    assert "PYTHONSAFEPATH" not in os.environ


def test_work_of_a_worker_that_dies_is_done_again(tmp_path):
    told = []
    made = run(many_work.die_once, range(6), str(tmp_path), workers=2, progress=told.append)
    assert Counter(outcome.item for outcome in made) == Counter(range(6))
    assert all(outcome.value == outcome.item for outcome in made)
    assert len(told) == 1 and told[0].startswith("a worker died") and "2" in told[0]


@pytest.mark.skipif(not Path("/proc/self/environ").exists(), reason="needs /proc")
def test_workers_end_with_the_command_that_is_killed(tmp_path):
    # os._exit is a kill without its message: no pool is shut down, nobody is told
    script = (
        "import os, many_work\n"
        "from lakekit.many.workers import crew\n"
        "with crew(workers=2) as each:\n"
        "    print(next(each(many_work.double, range(4), None)).value, flush=True)\n"
        "    os._exit(9)\n"
    )
    token = f"many-{os.getpid()}"
    with open(tmp_path / "said", "w+") as said:  # a pipe would be held open by what is left
        killed = subprocess.run(
            [sys.executable, "-c", script], cwd=Path(__file__).parent, stdout=said, stderr=said,
            env={**os.environ, MARK: token, "TMPDIR": str(tmp_path)},
        )  # fmt: skip
    assert killed.returncode == 9 and "(None, " in (tmp_path / "said").read_text()
    for _ in range(200):
        if not (left := marked(token)):
            break
        time.sleep(0.1)
    for process in left:
        os.kill(process, signal.SIGKILL)
    assert left == [] and list(tmp_path.glob("lakekit-*")) == []


def test_a_lake_that_kills_every_worker_is_given_up_and_the_others_finish(tmp_path):
    made = {o.item: o for o in run(many_work.die_always, range(4), str(tmp_path), workers=2)}
    assert made[2].ours and "died 3 times" in made[2].problem
    assert all(not made[item].problem for item in (0, 1, 3))


def test_a_cluster_worker_writes_netcdf(address, tmp_path):
    (made,) = run(many_work.write_netcdf, ["one"], str(tmp_path), scheduler=address)
    assert not made.problem
    assert load_dataset(tmp_path / "one.nc")["depth"].item() == 3.0


def test_a_cluster_worker_that_is_killed(address, tmp_path):
    made = run(many_work.die_once, range(6), str(tmp_path), scheduler=address)
    assert Counter(outcome.item for outcome in made) == Counter(range(6))
    assert not any(outcome.problem for outcome in made)


def test_a_scheduler_that_is_not_there(monkeypatch):
    pytest.importorskip("distributed", reason="dask.distributed is not installed")
    monkeypatch.setattr("lakekit.many.workers.CONNECT", 1)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        nowhere = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    with pytest.raises(ClusterError, match="no scheduler answers at tcp") as caught:
        run(many_work.double, [1], scheduler=nowhere)
    assert "\n" not in str(caught.value)


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    folder = tmp_path_factory.mktemp("club")
    return short_demo(folder, years=1.5, keep=("quarry-hollow", "teal-marsh"))


def pages(folder):
    return {
        path.name: path.read_bytes()
        for path in folder.iterdir()
        if path.suffix in (".pdf", ".html", ".json")
    }


def test_a_club_is_the_same_in_one_process_and_in_two(club, tmp_path):
    lakes = list(read_club(club).lakes)
    for workers in (1, 2):
        season = Season("2026-04", 1, tmp_path / str(workers))
        made = list(write_seasons(read_club(club), lakes, season, workers=workers))
        assert sorted(outcome.item for outcome in made) == sorted(lakes)
        assert not any(outcome.problem for outcome in made)
    assert pages(tmp_path / "1") == pages(tmp_path / "2")
    assert len([name for name in pages(tmp_path / "1") if name.endswith(".pdf")]) == 2


def test_one_lake_without_weather_is_one_line_and_the_others_finish(club, tmp_path, capsys):
    text = (club / "lakes" / "teal-marsh.toml").read_text()
    bad = text.replace("Teal Marsh", "Dry").replace("prairie-airfield", "cut-short")
    (club / "lakes" / "dry.toml").write_text(bad)
    (club / "weather" / "cut-short.csv.gz").write_bytes(b"\x1f\x8b cut short")
    listed = tmp_path / "some.txt"
    listed.write_text("# the lakes of one county\nDry Lake\nquarry-hollow\n")
    words = ["season", "--club", club, "--lakes", listed, "--months", 1, "--out", tmp_path / "out"]
    try:
        status = main([str(word) for word in words])
    finally:
        (club / "lakes" / "dry.toml").unlink()
    said = capsys.readouterr()
    assert status == 2 and "Traceback" not in said.err
    assert said.err.count("cut-short.csv.gz") == 1
    assert "lakekit: 1 of 2 lakes could not be done (dry)" in said.err
    assert len(said.out.split()) == 4
    assert not list((tmp_path / "out").glob(".*")) and not list((tmp_path / "out").glob("dry*"))


def test_guides_as_data_are_those_of_the_pages(club):
    (outcome,) = season_guides(read_club(club), ["quarry-hollow"], Season("2026-04", 1, None))
    assert outcome.value["lake"]["key"] == "quarry-hollow"
    assert [month["month"] for month in outcome.value["months"]] == ["2026-04"]
