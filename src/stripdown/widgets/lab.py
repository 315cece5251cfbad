"""JupyterLab on a working copy of a workbook, which is run once so that it stands there ready to use."""

import json
import os
import secrets
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any
from urllib.parse import quote

from stripdown import resources

_STARTS_WITHIN = 90.0
"""Seconds after which a server that gave no sign is given up."""
_RUNS_WITHIN = 300.0
_LARGEST_MESSAGE = 200_000_000
"""Bytes: photos come from the browser in one message."""


class LabError(RuntimeError):
    """JupyterLab did not start, or the workbook did not run."""


@dataclass(frozen=True, slots=True)
class Lab:
    """A running server: `base` is its address, `folder` what it serves, `process` the server itself."""

    base: str
    token: str
    folder: Path
    runtime: Path
    process: "subprocess.Popen[bytes]"

    def open(self, notebook: Path) -> str:
        """Run a notebook of the folder; gives the address that shows it. Raises LabError."""
        name = notebook.resolve().relative_to(self.folder).as_posix()
        _run(self, notebook, name)
        return f"{self.base}doc/tree/{quote(name)}?token={self.token}"


def known(name: str, parameters: Mapping[str, str]) -> dict[str, str]:
    """Those of the parameters that the notebook `name` has."""
    import papermill

    there = set(papermill.inspect_notebook(_literal(resources.notebook(name))))
    return {k: v for k, v in parameters.items() if k in there}


def working_copy(name: str, folder: Path, parameters: Mapping[str, str]) -> Path:
    """The notebook `name` copied into `folder`, its parameters set, its code folded away."""
    import papermill

    source = resources.notebook(name)
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / source.name
    papermill.execute_notebook(
        _literal(source), _literal(target), dict(parameters), prepare_only=True, progress_bar=False
    )
    book = json.loads(target.read_text(encoding="utf-8"))
    book["metadata"].pop("papermill", None)
    for cell in book["cells"]:
        cell["metadata"].pop("papermill", None)
        if cell["cell_type"] == "code":
            cell["metadata"]["jupyter"] = {"source_hidden": True}
    target.write_text(json.dumps(book, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    return target


def _literal(path: Path) -> str:
    """papermill reads `{` in a path as a placeholder."""
    return str(path).replace("{", "{{").replace("}", "}}")


@contextmanager
def running(folder: Path, runtime: Path) -> Iterator[Lab]:
    """JupyterLab over a folder, on the loopback address with a token of its own; ended on the way out.

    `runtime`: a private folder for what servers and kernels note about themselves. Raises LabError.
    """
    token = secrets.token_hex(24)
    environment = os.environ | {"JUPYTER_TOKEN": token, "JUPYTER_RUNTIME_DIR": str(runtime)}
    with (runtime / "server.log").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "stripdown.widgets.lab_server", *_options(folder, runtime)],
            env=environment,
            stdin=subprocess.PIPE,  # closes with this program, however that ends
            stdout=log,
            stderr=log,
            start_new_session=True,  # an interrupt from the keyboard is ours to pass on
        )
    try:
        yield Lab(_address(process, runtime), token, folder.resolve(), runtime, process)
    finally:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        finally:
            assert process.stdin is not None
            process.stdin.close()


_SETTINGS = {
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
    "notebook-extension/tracker": {"windowingMode": "none"},  # a workbook out of sight stays as it is
}


def _options(folder: Path, runtime: Path) -> list[str]:
    for name, settings in _SETTINGS.items():
        path = runtime / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(settings), encoding="utf-8")
    return [
        "--no-browser",
        "--allow-root",  # on the loopback address, behind a token
        "--ServerApp.ip=127.0.0.1",
        "--ServerApp.port=0",
        f"--ServerApp.root_dir={folder.resolve()}",
        f"--ServerApp.tornado_settings={{'websocket_max_message_size': {_LARGEST_MESSAGE}}}",
        f"--LabApp.user_settings_dir={runtime / 'settings'}",
        f"--LabApp.workspaces_dir={runtime / 'workspaces'}",
        "--LabApp.expose_app_in_browser=True",  # the page's own way to run the workbook again
        "--LabApp.news_url=",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    ]


def _address(process: "subprocess.Popen[bytes]", runtime: Path) -> str:
    """Where the server listens, once it answers."""
    end = time.monotonic() + _STARTS_WITHIN
    while time.monotonic() < end and process.poll() is None:
        for note in runtime.glob(f"jpserver-{process.pid}.json"):
            try:
                base = str(json.loads(note.read_text(encoding="utf-8"))["url"])
                urllib.request.urlopen(f"{base}api", timeout=5).close()
                return base
            except (OSError, ValueError, KeyError):
                pass  # not yet
        time.sleep(0.1)
    told = (runtime / "server.log").read_text(encoding="utf-8", errors="replace").strip().splitlines()
    raise LabError(f"JupyterLab did not start: {told[-1] if told else 'it said nothing'}")


def _run(lab: Lab, notebook: Path, name: str) -> None:
    """Run the notebook in the kernel that JupyterLab will find it with; outputs are kept and trusted."""
    from jupyter_client.blocking.client import BlockingKernelClient

    nbformat: Any = import_module("nbformat")
    sign: Any = import_module("nbformat.sign")

    order = {"path": name, "name": notebook.name, "type": "notebook", "kernel": {"name": "python3"}}
    kernel = _post(f"{lab.base}api/sessions", lab.token, order)["kernel"]["id"]
    client = BlockingKernelClient(connection_file=str(lab.runtime / f"kernel-{kernel}.json"))
    client.load_connection_file()
    client.hb_channel.time_to_dead = _STARTS_WITHIN  # a busy machine is not a dead kernel
    client.start_channels()
    book = nbformat.read(notebook, as_version=4)
    try:
        client.wait_for_ready(timeout=_STARTS_WITHIN)
        for cell in book.cells:
            if cell.cell_type == "code":
                _run_cell(client, cell)
    finally:
        client.stop_channels()
        nbformat.write(book, notebook)
        sign.NotebookNotary().sign(book)


def _run_cell(client: Any, cell: Any) -> None:
    v4: Any = import_module("nbformat.v4")
    outputs: list[Any] = []

    def keep(message: dict[str, Any]) -> None:
        if message["msg_type"] in ("stream", "display_data", "execute_result", "error"):
            outputs.append(v4.output_from_msg(message))

    answer = client.execute_interactive(cell.source, output_hook=keep, timeout=_RUNS_WITHIN)
    cell.outputs, cell.execution_count = outputs, answer["content"].get("execution_count")
    if answer["content"]["status"] != "ok":
        said = answer["content"].get("evalue") or answer["content"].get("ename")
        raise LabError(f"the workbook did not run: {said}")


def _post(address: str, token: str, body: Mapping[str, object]) -> Any:
    headers = {"Authorization": f"token {token}", "Content-Type": "application/json"}
    request = urllib.request.Request(address, json.dumps(body).encode(), headers)
    with urllib.request.urlopen(request, timeout=_STARTS_WITHIN) as answer:
        return json.load(answer)
