"""Where the notebooks, the demo and the fonts lie: inside an installed wheel, or at the top of a checkout."""

from importlib.util import find_spec
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


def fonts() -> Path:
    """Folder of the sans serif that comes with matplotlib, which need not be imported for that."""
    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        raise FileNotFoundError("matplotlib is missing from this installation: install stripdown again")
    return Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"


def _find(shipped: str, checkout: str) -> Path:
    for folder in (_SHIPPED / shipped, _CHECKOUT / checkout):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"{checkout} is missing from this installation: install stripdown again")
