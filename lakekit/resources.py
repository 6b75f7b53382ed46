"""Where the demo club, the notebooks and the templates lie, in a checkout and in a wheel."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def _shared_folder(in_checkout, in_wheel, marker):
    for folder in (_PACKAGE.parent / in_checkout, _PACKAGE / "share" / in_wheel):
        if (folder / marker).exists():
            return folder
    raise FileNotFoundError(
        f"lakekit's own {in_wheel} folder is missing from this installation; install lakekit again"
    )


def demo_folder():
    """Folder of the invented demo club, the default club everywhere.

    Returns
    -------
    pathlib.Path
        ``data/demo`` of a checkout, ``lakekit/share/demo`` of an installed wheel.
    """
    return _shared_folder("data/demo", "demo", "club.toml")


def notebooks_folder():
    """Folder of the notebooks, ``lakekit/share/notebooks`` in an installed wheel."""
    return _shared_folder("notebooks", "notebooks", "season.ipynb")


def template_folder():
    """Folder of the commented files that :func:`lakekit.club.new_club` copies."""
    return _PACKAGE / "template"
