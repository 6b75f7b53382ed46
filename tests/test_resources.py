"""The package's own folders are found in a checkout and in an installed wheel."""

import pytest

from lakekit import resources


def test_the_checkouts_folders():
    assert (resources.demo_folder() / "club.toml").is_file()
    assert (resources.template_folder() / "club.toml").is_file()
    assert list(resources.notebooks_folder().glob("*.ipynb"))


def test_the_wheels_folders(tmp_path, monkeypatch):
    package = tmp_path / "site-packages" / "lakekit"
    for name, marker in (("demo", "club.toml"), ("notebooks", "season.ipynb")):
        (package / "share" / name).mkdir(parents=True)
        (package / "share" / name / marker).write_text("", encoding="utf-8")
    monkeypatch.setattr(resources, "_PACKAGE", package)
    assert resources.demo_folder() == package / "share" / "demo"
    assert resources.notebooks_folder() == package / "share" / "notebooks"


def test_a_broken_installation_says_so(tmp_path, monkeypatch):
    monkeypatch.setattr(resources, "_PACKAGE", tmp_path / "lakekit")
    with pytest.raises(FileNotFoundError, match="install lakekit again"):
        resources.demo_folder()
