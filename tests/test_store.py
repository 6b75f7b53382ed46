"""Files written whole, read back checked."""

import errno
import os
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from lakekit.store import (
    READY,
    StoreError,
    cache_folder,
    finish_together,
    folder_fault,
    keep_arrays,
    kept_arrays,
    load_dataset,
    replace_atomically,
    save_dataset,
    write_together,
)


def state():
    return xr.Dataset(
        {
            "water_temperature": (("member", "depth"), np.arange(12.0).reshape(3, 4)),
            "ice_thickness": ("member", np.zeros(3)),
        },
        coords={"depth": [0.5, 1.5, 2.5, 3.5]},
        attrs={"lake": "mill"},
    )


def test_a_file_is_replaced_whole(tmp_path):
    path = tmp_path / "new" / "guide.txt"
    with replace_atomically(path) as temporary:
        assert temporary.parent == path.parent
        assert temporary.suffix == ".txt"
        temporary.write_text("one")
        assert not path.exists()
    assert path.read_text() == "one"
    assert os.listdir(path.parent) == ["guide.txt"]


def test_an_interruption_leaves_the_old_file(tmp_path):
    path = tmp_path / "guide.txt"
    path.write_text("old")
    with pytest.raises(KeyboardInterrupt), replace_atomically(path) as temporary:
        temporary.write_text("half")
        raise KeyboardInterrupt
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["guide.txt"]


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EROFS, "the disk is read-only"),
        (errno.EACCES, "may not be written here"),
    ],
)
def test_a_disk_that_takes_nothing_is_one_line(tmp_path, monkeypatch, number, words):
    path = tmp_path / "guide.txt"
    path.write_text("old")

    def fails(*_):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", fails)
    with pytest.raises(StoreError, match=words) as caught, replace_atomically(path) as temporary:
        temporary.write_text("new")
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["guide.txt"]


def test_a_really_full_device_is_one_line(tmp_path):
    """/dev/full is a device on which every write fails as on a full disk."""
    if not os.path.exists("/dev/full"):
        pytest.skip("no /dev/full on this system")
    with (
        pytest.raises(StoreError, match="the disk is full"),
        replace_atomically(tmp_path / "x.txt"),
        open("/dev/full", "w") as full,
    ):
        full.write("x" * 100_000)
    assert os.listdir(tmp_path) == []


def test_a_path_through_a_file_is_one_line(tmp_path):
    (tmp_path / "file").write_text("")
    with (
        pytest.raises(StoreError, match="cannot be written"),
        replace_atomically(tmp_path / "file" / "guide.txt"),
    ):
        pass


def test_a_dataset_comes_back(tmp_path):
    save_dataset(state(), tmp_path / "s.nc")
    xr.testing.assert_identical(load_dataset(tmp_path / "s.nc"), state())


@pytest.mark.parametrize("damage", ["flipped", "cut", "html"])
def test_a_damaged_dataset_is_noticed(tmp_path, damage):
    path = tmp_path / "s.nc"
    save_dataset(state(), path)
    raw = bytearray(path.read_bytes())
    if damage == "flipped":
        place = raw.find(np.float64(7.0).tobytes())  # inside the temperature array
        assert place > 0
        raw[place + 7] ^= 0x01
    elif damage == "cut":
        raw = raw[: len(raw) // 2]
    else:
        raw = bytearray(b"<html>not here</html>")
    path.write_bytes(raw)
    with pytest.raises(StoreError, match="damaged"):
        load_dataset(path)


def test_arrays_come_back_with_their_facts(tmp_path):
    path = tmp_path / "72531" / "2020.npz"
    values = np.array([1.0, np.nan, 3.0])
    keep_arrays(path, {"temp": values}, {"station": "72531", "pulled": "2024-01-01"})
    arrays, about = kept_arrays(path)
    assert np.array_equal(arrays["temp"], values, equal_nan=True)
    assert about["station"] == "72531"


@pytest.mark.parametrize("damage", ["flipped", "cut", "empty"])
def test_damaged_arrays_are_removed_to_be_pulled_again(tmp_path, damage):
    path = tmp_path / "2020.npz"
    keep_arrays(path, {"temp": np.random.default_rng(0).random(500)}, {"station": "x"})
    raw = bytearray(path.read_bytes())
    if damage == "flipped":
        raw[len(raw) // 2] ^= 0xFF
    path.write_bytes({"flipped": raw, "cut": raw[:400], "empty": b""}[damage])
    assert kept_arrays(path) is None
    assert not path.exists()


def test_the_cache_folder_can_be_chosen(monkeypatch, tmp_path):
    monkeypatch.setenv("LAKEKIT_CACHE", str(tmp_path))
    assert cache_folder() == tmp_path
    monkeypatch.delenv("LAKEKIT_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "c"))
    assert cache_folder().name == "lakekit"


def told(owner, mode):
    return os.stat_result((mode, 0, 0, 1, owner, owner, 0, 0, 0, 0))


@pytest.mark.parametrize(
    ("owner", "mode", "above", "fault"),
    [
        (1000, 0o40700, [], ""),
        (0, 0o40755, [(0, 0o40755)], ""),
        (1000, 0o40700, [(0, 0o41777)], ""),  # a shared folder where nobody renames another's
        (1001, 0o40700, [], "someone else"),
        (1000, 0o40777, [], "others may write"),
        (1000, 0o40770, [], "others may write"),
        (1000, 0o40700, [(0, 0o40777)], "a folder it stands in"),
    ],
)
def test_only_a_folder_of_our_own_is_trusted(owner, mode, above, fault):
    found = folder_fault(told(owner, mode), [told(*place) for place in above], user=1000)
    assert fault in found and bool(fault) == bool(found)


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="needs POSIX owners")
def test_a_cache_others_may_write_to_is_refused(monkeypatch, tmp_path):
    shared = tmp_path / "shared"
    shared.mkdir()
    shared.chmod(0o777)
    monkeypatch.setenv("LAKEKIT_CACHE", str(shared))
    with pytest.raises(StoreError, match=r"others may write to it.*chmod 700"):
        cache_folder()


def test_a_full_disk_leaves_a_dataset_as_it_was(tmp_path, monkeypatch):
    path = save_dataset(state(), tmp_path / "state.nc")
    before = path.read_bytes()

    def full(self, content):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_bytes", full)
    with pytest.raises(StoreError, match="the disk is full"):
        save_dataset(state(), path)
    assert [entry.read_bytes() for entry in tmp_path.iterdir()] == [before]


def test_writers_of_one_folder_do_not_lose_each_others_work(tmp_path):
    def counted(draft):
        before = tmp_path / "count.csv"
        number = int(before.read_text()) if before.exists() else 0
        time.sleep(0.002)  # another may come here
        (draft / "count.csv").write_text(str(number + 1))
        yield draft / "count.csv"

    def one(number):
        def write(draft):
            for suffix in ("html", "pdf"):
                path = draft / f"{number}.{suffix}"
                path.write_text(str(number))
                yield path

        return write_together(tmp_path, str(number), write, counted)

    with ThreadPoolExecutor(4) as crew:
        made = list(crew.map(one, range(24)))
    assert [path.name for path in made[7]] == ["7.html", "7.pdf", "count.csv"]
    assert (tmp_path / "count.csv").read_text() == "24"
    assert {path.name for path in tmp_path.iterdir()} == {
        "count.csv", *(f"{number}.{suffix}" for number in range(24) for suffix in ("html", "pdf"))
    }  # fmt: skip


def test_a_set_that_is_being_written_is_not_cleared_as_a_dead_ones(tmp_path):
    (tmp_path / ".fern-killed").mkdir()

    def write(draft, text, meanwhile=None):
        path = draft / "fern.txt"
        path.write_text(text)
        if meanwhile:
            write_together(tmp_path, "fern", meanwhile)
        yield path

    def other(draft):
        return write(draft, "other")

    write_together(tmp_path, "fern", lambda draft: write(draft, "own", other))
    assert [path.name for path in tmp_path.iterdir()] == ["fern.txt"]
    assert (tmp_path / "fern.txt").read_text() == "own"


@pytest.mark.parametrize("gone", ["fern.html", "the folder"])
def test_a_finished_set_that_another_process_puts_in_its_place_is_no_fault(
    gone, tmp_path, monkeypatch
):
    monkeypatch.setitem(sys.modules, "fcntl", None)  # a system without locks
    ready = tmp_path / f".fern{READY}"
    ready.mkdir()
    for name in ("fern.html", "fern.pdf"):
        (ready / name).write_text("new")
    real = os.replace

    def slower(source, target):
        if gone == "the folder":
            for path in list(ready.iterdir()):
                real(path, tmp_path / path.name)
            ready.rmdir()
        elif Path(source).name == gone:
            real(source, target)
        return real(source, target)

    monkeypatch.setattr("lakekit.store.os.replace", slower)
    finish_together(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["fern.html", "fern.pdf"]
