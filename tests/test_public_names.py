"""What `import stripdown` offers, and what it costs."""

import subprocess
import sys

import pytest

import stripdown


@pytest.mark.parametrize("name", stripdown.__all__)
def test_every_public_name_is_there(name: str) -> None:
    assert getattr(stripdown, name) is not None
    assert name in dir(stripdown)


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="nonsense"):
        _ = stripdown.nonsense  # type: ignore[attr-defined]


def test_the_import_itself_loads_no_room() -> None:
    code = "import sys, stripdown; print(*[n for n in sys.modules if n.startswith('stripdown.') or n == 'numpy'])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert set(done.stdout.split()) <= {"stripdown.version"}
