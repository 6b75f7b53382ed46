"""The store of computed results: exact keys, one lake's apart from another's, a limit in size."""

import os
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from lakekit.waters import kept as module
from lakekit.waters.kept import _make_room, code_key, content_key, kept


def dataset(**changes):
    values = np.arange(6, dtype=changes.pop("dtype", np.float64)).reshape(2, 3)
    made = xr.Dataset({"a": (("x", "y"), values, {"units": "m"})}, attrs={"source": "s"})
    return made.assign(**changes) if changes else made


def lake(key):
    return SimpleNamespace(key=key, name=key.title())


def test_a_key_tells_values_types_shapes_names_and_attributes_apart():
    base = dataset()
    one = base.copy(deep=True)
    one["a"][0, 0] = np.nextafter(0.0, 1.0)
    others = [
        one,
        dataset(dtype=np.float32),
        base.rename(a="b"),
        base.transpose("y", "x"),
        base.rename(x="y", y="x"),
        base.assign_attrs(source="t"),
        base.assign(a=base["a"].assign_attrs(units="km")),
        base["a"].to_numpy(),
        base["a"].to_numpy().reshape(3, 2),
        base["a"].to_numpy().ravel().view(np.int64),
        pd.DataFrame({"a": [1, 2]}),
        pd.DataFrame({"a": [1.0, 2.0]}),
        pd.DataFrame({"a": [1, 2]}, index=[1, 0]),
        "1",
        1,
        1.0,
        None,
    ]
    keys = [content_key(part) for part in [base, *others]]
    assert len(set(keys)) == len(keys)
    assert content_key(base.copy(deep=True)) == keys[0]
    assert content_key("a", "b") != content_key("ab")


def test_a_key_follows_the_sources_that_compute_and_the_libraries(monkeypatch, tmp_path):
    for folder in module.COMPUTES:
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "one.py").write_text("x = 1\n")
    (tmp_path / "__init__.py").write_text("")
    monkeypatch.setattr(module.lakekit, "__file__", str(tmp_path / "__init__.py"))
    seen = {code_key.__wrapped__()}
    for folder in module.COMPUTES:
        (tmp_path / folder / "one.py").write_text("x = 2\n")
        seen.add(code_key.__wrapped__())
    monkeypatch.setattr(module, "version", lambda name: "0.0")
    seen.add(code_key.__wrapped__())
    assert len(seen) == 2 + len(module.COMPUTES)


def test_what_was_kept_is_given_back_and_what_is_damaged_is_made_again(tmp_path):
    made = []

    def make():
        made.append(1)
        return dataset()

    for _ in range(2):
        xr.testing.assert_identical(
            kept("layers", lake("fern"), "k", make, folder=tmp_path), dataset()
        )
    assert len(made) == 1
    (path,) = tmp_path.glob("*/*/*.nc")
    path.write_bytes(path.read_bytes()[:500])
    xr.testing.assert_identical(kept("layers", lake("fern"), "k", make, folder=tmp_path), dataset())
    assert len(made) == 2


def test_what_follows_from_a_kept_result_has_one_key_when_it_is_new_and_when_it_is_found(tmp_path):
    def make():
        return dataset(name=("x", ["a", "b"])).assign_attrs(casts=4, weight=0.25, of=["p", "q"])

    new, found = (kept("fits", lake("fern"), "one", make, folder=tmp_path) for _ in range(2))
    assert content_key(new) == content_key(found)
    assert content_key(new) != content_key(make())  # else this test could not fail


def test_a_lake_never_removes_what_is_kept_of_another(tmp_path, monkeypatch):
    """However alike their names are: fern and fern-hollow."""
    said = []
    for name in ("fern-hollow", "fern", "fern"):
        kept("states", lake(name), f"k{len(said)}", dataset, folder=tmp_path)
        said.append(name)
    assert {path.parent.name for path in tmp_path.glob("*/*/*.nc")} == {"fern", "fern-hollow"}


def test_the_store_has_a_limit_and_says_when_it_makes_room(tmp_path, monkeypatch):
    said = []
    for number in range(4):
        kept("odds", lake("fern"), f"k{number}", dataset, folder=tmp_path, progress=said.append)
        path = tmp_path / "odds" / "fern" / f"k{number}.nc"
        os.utime(path, (number, number))
    size = path.stat().st_size
    kept("odds", lake("fern"), "k0", pytest.fail, folder=tmp_path)  # used: now the youngest
    assert said == []
    monkeypatch.setattr(module, "MOST_BYTES", 3 * size)
    kept("odds", lake("fern"), "k4", dataset, folder=tmp_path, progress=said.append)
    assert sorted(path.stem for path in tmp_path.glob("*/*/*.nc")) == ["k0", "k3", "k4"]
    assert len(said) == 1
    assert "2 of the oldest removed" in said[0]


def test_what_was_just_made_stays_however_small_the_limit(tmp_path):
    kept("odds", lake("fern"), "k", dataset, folder=tmp_path)
    path = tmp_path / "odds" / "fern" / "k.nc"
    assert _make_room(tmp_path, keep=path, most=0) == 0
    assert path.exists()


def test_a_store_that_cannot_be_written_costs_one_line(tmp_path):
    (tmp_path / "odds").write_text("a file in the way")
    said = []
    xr.testing.assert_identical(
        kept("odds", lake("fern"), "k", dataset, folder=tmp_path, progress=said.append), dataset()
    )
    assert len(said) == 1
    assert "not kept" in said[0]
