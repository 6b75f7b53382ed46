"""Fixtures: the measured observations, where a checkout has them beside it."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

# the same examples on every run: a suite that fails by chance teaches nobody
settings.register_profile("lakekit", derandomize=True, deadline=None)
settings.load_profile("lakekit")


@pytest.fixture(scope="session")
def observations():
    """Folder of open measured data; skipped where absent, failed where CI=true."""
    default = Path(__file__).resolve().parents[2] / "shared" / "observations"
    folder = Path(os.environ.get("LAKEKIT_OBSERVATIONS", default))
    if not folder.is_dir():
        reason = f"open observations not found at {folder}; set LAKEKIT_OBSERVATIONS"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return folder


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory):
    """Nothing in the suite reads or writes the user's cache; its workers have one of their own."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "kept"
    folder.mkdir(mode=0o700, exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LAKEKIT_CACHE", str(folder))
        yield
