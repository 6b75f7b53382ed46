"""Compiled code kept between runs: damage heals, and nobody else's is run."""

import os
import shutil
import stat
import subprocess
import sys
import textwrap

import pytest

from lakekit.column import compiled as module


def double(x):
    return 2.0 * x


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "CACHE_FOLDER", tmp_path)
    monkeypatch.setattr(module, "_SAID", set())
    return tmp_path


@pytest.mark.parametrize("damage", ["cut", "empty", "flipped", "foreign"])
def test_damaged_compiled_code_is_made_again_and_said_once(folder, capfd, damage):
    assert module.compiled(double)(2.0) == 4.0
    [path] = folder.glob("double-*.code")
    sound = path.read_bytes()
    flipped = bytearray(sound)
    flipped[len(sound) // 2] ^= 0xFF
    path.write_bytes(
        {
            "cut": sound[:200],
            "empty": b"",
            "flipped": bytes(flipped),
            "foreign": b"\x80\x04cposix\nsystem\n.",
        }[damage]
    )
    capfd.readouterr()
    again = module.compiled(double)
    assert again(2.0) == 4.0 and not again.stats.cache_hits
    assert capfd.readouterr().err.count("damaged compiled code was removed") == 1
    third = module.compiled(double)
    assert third(2.0) == 4.0 and third.stats.cache_hits
    assert capfd.readouterr().err == ""


def test_a_cache_that_cannot_be_written_is_said_and_survived(folder, capfd, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    assert module.compiled(double)(2.0) == 4.0
    assert "not kept for next time (cannot be written: the disk is full)" in capfd.readouterr().err
    assert not list(folder.glob("double*"))


def test_an_edited_source_is_compiled_anew(folder, tmp_path):
    first = module._CheckedFiles(folder, double)
    second = module._CheckedFiles(folder, double)
    second.source += b"# edited"
    assert first._path("key") != second._path("key")


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="needs POSIX owners")
def test_a_folder_others_may_write_to_is_not_used(tmp_path, monkeypatch):
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "ours"))
    ours = module.compiled_folder()
    assert ours.parent == tmp_path / "ours"
    assert stat.S_IMODE(ours.stat().st_mode) & 0o077 == 0
    ours.chmod(0o777)
    other = module.compiled_folder()
    assert other != ours and stat.S_IMODE(other.stat().st_mode) == 0o700


def test_the_cache_folder_changes_with_any_source(tmp_path):
    for name in ("a.py", "b.py"):
        (tmp_path / name).write_text("x = 1\n")
    before = module.source_hash(tmp_path)
    (tmp_path / "b.py").write_text("x = 2\n")
    assert module.source_hash(tmp_path) != before
    (tmp_path / "b.py").write_text("x = 1\n")
    assert module.source_hash(tmp_path) == before


@pytest.mark.skipif(shutil.which("env") is None, reason="needs env")
def test_a_home_that_cannot_be_written_is_survived(tmp_path):
    code = textwrap.dedent(
        """
        from lakekit.column.compiled import CACHE_FOLDER
        from lakekit.column.water import density
        assert abs(density(4.0) - 999.9749) < 1e-3
        print(CACHE_FOLDER)
        """
    )
    barred = tmp_path / "file"
    barred.write_text("")  # a file where a folder would have to be
    environment = {"PATH": "/usr/bin:/bin", "HOME": str(barred), "XDG_CACHE_HOME": str(barred),
                   "TMPDIR": str(tmp_path)}  # fmt: skip
    out = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True
    )
    assert str(tmp_path) in out.stdout
