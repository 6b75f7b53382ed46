"""Runs one function over many lakes: in this process, in processes beside it, or on a cluster.

Whatever runs them, a lake's result is the same: the function gets the same arguments, and linear
algebra has one thread in each. At most two lakes a worker are under way; results are handed on as
they come and not gathered. Work under way when a worker dies is done again, one lake at a time, and
twice at the most.
"""

import contextlib
import multiprocessing
import os
import pickle
import shutil
import tempfile
import threading
from collections import Counter, deque
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

from lakekit.errors import ClusterError, LakekitError
from lakekit.progress import passing, patience

ATTEMPTS = 3
UNDER_WAY = 2  # lakes a worker
CHILDREN = {  # the environment of processes started here
    "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1",
    "NUMBA_NUM_THREADS": "1",  # the lakes are the threads
    "PYTHONSAFEPATH": "1",  # else Python looks for every module in the working folder first
}  # fmt: skip
CONNECT = 10  # s

# Fonts and drawings are not safe in two threads: a cluster's worker may have several.
_ONE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True)
class Outcome:
    """What became of one lake."""

    item: Any
    value: Any = None
    problem: str = ""  # one line; empty: it went well
    ours: bool = False  # a fault of lakekit's own, or of the machine


def cores():
    """Cores this process may run on."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextlib.contextmanager
def crew(*, workers=1, scheduler=None, progress=None):
    """Those who do the work, kept from one map to the next.

    Parameters
    ----------
    workers : int
        1: this process; more: as many processes beside it.
    scheduler : str, optional
        Address of a running dask.distributed scheduler, ``tcp://host:8786``; ``workers`` then
        counts nothing.
    progress : callable, optional
        Told the lines of this process, and of workers that died.

    Yields
    ------
    callable
        ``each(function, items, shared)`` yields an :class:`Outcome` for each item, in the order
        of the items where this process does all, else as they end. The function, of
        ``(shared, item, say)``, is found by its name in a module; ``shared`` is sent to each
        worker once. A LakekitError of one item is its problem; the others go on.

    Raises
    ------
    ClusterError
        Where the scheduler cannot be reached or has other sources than this machine.
    """
    say = progress or (lambda line: None)
    if scheduler:
        with _client(scheduler) as client:
            yield partial(_on_cluster, client)
    elif workers > 1:
        with _for_children(), Pool(workers, say) as pool:
            yield pool.each
    else:
        yield lambda function, items, shared: (
            attempt(function, shared, item, say) for item in items
        )


def attempt(function, shared, item, say=lambda line: None):
    """One item's outcome, whatever goes wrong."""
    try:
        with _ONE_AT_A_TIME:
            return Outcome(item, function(shared, item, say))
    except LakekitError as problem:
        return Outcome(item, problem=_line(problem), ours=getattr(problem, "ours", False))
    except Exception as problem:
        return Outcome(item, problem=_line(f"{type(problem).__name__}: {problem}"), ours=True)


def _line(text):
    return " ".join(str(text).split())[:500]


@lru_cache(maxsize=1)
def _loaded(path):
    return pickle.loads(Path(path).read_bytes())


def _work(path, item):
    return attempt(*_loaded(path), item)


def _end_with_parent(folder):
    """End this process when the command that started it is killed: its queue would never end.

    The command's own folder goes with it.
    """

    def watch():
        multiprocessing.parent_process().join()
        shutil.rmtree(folder, ignore_errors=True)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


class Pool:
    """Processes of this machine; made anew where one dies, its work done again."""

    def __init__(self, workers, say):
        self.workers, self.say = workers, say

    def __enter__(self):
        self.folder = tempfile.TemporaryDirectory(prefix="lakekit-")
        self.maps = 0
        self._start()
        return self

    def _start(self):
        self.pool = ProcessPoolExecutor(
            self.workers, multiprocessing.get_context("spawn"),
            initializer=_end_with_parent, initargs=(self.folder.name,),
        )  # fmt: skip

    def __exit__(self, *problem):
        self.pool.shutdown(cancel_futures=True)
        self.folder.cleanup()

    def each(self, function, items, shared):
        """Outcomes of a function over items, as they end."""
        self.maps += 1
        path = Path(self.folder.name) / f"{self.maps}.pickle"
        path.write_bytes(pickle.dumps((function, shared)))
        left, suspects, deaths = deque(items), deque(), Counter()
        under_way = {}
        while left or suspects or under_way:
            # who was there when a worker died is tried alone: none is given up for its neighbour
            queue, most = (suspects, 1) if suspects else (left, UNDER_WAY * self.workers)
            try:
                while queue and len(under_way) < most:
                    future = self.pool.submit(_work, str(path), queue[0])
                    under_way[future] = queue.popleft()
                ended = wait(under_way, timeout=patience(), return_when=FIRST_COMPLETED).done
                passing(f"{len(under_way)} under way")
                for future in ended:
                    outcome = future.result()
                    del under_way[future]
                    yield outcome
            except BrokenProcessPool:
                self.pool.shutdown()
                there, under_way = list(under_way.values()), {}
                deaths.update(there)
                again = [item for item in there if deaths[item] < ATTEMPTS]
                self.say(f"a worker died: {', '.join(map(str, again)) or 'nothing'} done again")
                suspects.extendleft(reversed(again))
                self._start()
                yield from (_died(item) for item in there if item not in again)


def _died(item):
    return Outcome(item, problem=f"the worker died {ATTEMPTS} times; it may lack memory", ours=True)


@contextlib.contextmanager
def _for_children():
    """Processes started inside have ``CHILDREN`` in their environment."""
    before = {name: os.environ.get(name) for name in CHILDREN}
    os.environ.update(CHILDREN)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name)
            else:
                os.environ[name] = value


def _on_cluster(client, function, items, shared):
    from distributed import as_completed

    sent = client.scatter((function, shared), broadcast=True, hash=False)
    left, item_of = deque(items), {}
    most = UNDER_WAY * max(sum(client.nthreads().values()), 1)

    def submit():
        future = client.submit(_attempt_sent, sent, left[0], pure=False)
        item_of[future.key] = left.popleft()
        return future

    first = [submit() for _ in range(min(most, len(left)))]
    running = as_completed(first, loop=client.loop)
    for future in running:
        item = item_of.pop(future.key)
        if left:
            running.add(submit())
        # an error here is the loss of a worker, more often than the scheduler allows
        yield future.result() if future.status == "finished" else _died(item)


def _attempt_sent(sent, item):
    import dask

    # else xarray asks the cluster for a lock on what it writes in memory, which no scheduler knows
    with dask.config.set(scheduler="synchronous"):
        return attempt(*sent, item)


@contextlib.contextmanager
def _client(address):
    try:
        from distributed import Client
    except ImportError:
        raise ClusterError(
            "dask.distributed is not installed", where="--scheduler",
            mend='Install it: pip install "lakekit[cluster]".',
        ) from None  # fmt: skip
    try:
        client = Client(address, timeout=CONNECT, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as problem:
        raise ClusterError(
            f"no scheduler answers at {address}", where="--scheduler",
            mend="Start one with: dask scheduler, and workers with: dask worker "
            f"{address} --nthreads 1.",
        ) from problem  # fmt: skip
    with client:
        _check_workers(client, address)
        yield client


def _check_workers(client, address):
    from lakekit.waters.kept import code_key

    try:
        client.wait_for_workers(1, timeout=CONNECT)
    except TimeoutError:
        raise ClusterError(
            f"the scheduler at {address} has no workers", where="--scheduler",
            mend=f"Start some: dask worker {address} --nthreads 1.",
        ) from None  # fmt: skip
    try:
        told = client.run(code_key)
    except Exception as problem:  # whatever a worker without lakekit raises
        raise ClusterError(
            f"a worker cannot run lakekit ({_line(problem)})", where="--scheduler",
            mend="Install the same lakekit on every worker.",
        ) from problem  # fmt: skip
    others = [worker for worker, key in told.items() if key != code_key()]
    if others:
        raise ClusterError(
            f"{len(others)} of {len(told)} workers run another lakekit or other libraries, "
            f"{others[0]} first",
            where="--scheduler",
            mend="Install the same versions on every worker.",
        )
