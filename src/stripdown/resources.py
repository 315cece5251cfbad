"""Where the notebooks and the demo lie: inside an installed wheel, or at the top of a checkout."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_SHIPPED = _PACKAGE / "_shipped"
_CHECKOUT = _PACKAGE.parent.parent


def notebook(name: str) -> Path:
    """Path of the notebook `name` (without `.ipynb`) as it is shipped; raises FileNotFoundError."""
    return _find("notebooks", "notebooks") / f"{name}.ipynb"


def demo() -> Path:
    """Folder of the demo scenario; raises FileNotFoundError."""
    return _find("demo", "data/demo")


def _find(shipped: str, checkout: str) -> Path:
    for folder in (_SHIPPED / shipped, _CHECKOUT / checkout):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"{checkout} is missing from this installation: install stripdown again")
