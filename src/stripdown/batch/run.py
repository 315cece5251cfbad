"""A whole batch: read, skip what is done, run the rest in lanes, note each in the ledger, write the index."""

import hashlib
from collections import Counter
from collections.abc import Generator, Mapping, Sequence
from contextlib import closing, contextmanager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from stripdown.batch import folder, index
from stripdown.batch.keeper import Nursery
from stripdown.batch.lanes import Lanes, Lost
from stripdown.batch.ledger import NAME, Ledger
from stripdown.batch.progress import Progress
from stripdown.batch.settings import KernelName, Settings
from stripdown.batch.work import FILES, Item, Outcome, do, get_ready
from stripdown.record import Fault, Record, Rejected, folder_name
from stripdown.version import __version__


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """What is to be done: `timeout` [s] a record; `resume` leaves out what the ledger says is done and unchanged.

    `base`: the folder that the files of the records are named from; None = the working folder. `scheduler`: address of
    a Dask scheduler whose workers do the records; '' = workers of this machine. `nursery`: where one answers that was
    started before the records were read; '' = the run starts its own where it needs one.
    """

    out: Path
    settings: Settings
    base: Path | None = None
    workers: int = 2
    timeout: float = 300.0
    resume: bool = False
    scheduler: str = ""
    nursery: str = ""


@dataclass(slots=True)
class Tally:
    """What became of the records, by state; `skipped` were done by an earlier run; the index, once it is written."""

    states: Counter[str] = field(default_factory=Counter)
    skipped: int = 0
    faults: list[Fault] = field(default_factory=list)
    index: Path | None = None


def run(records: Sequence[Record | Rejected], batch: Batch, tally: Tally) -> None:
    """Do the batch; `tally` fills as it goes, so that it tells how far an interrupted one came."""
    batch.out.mkdir(parents=True, exist_ok=True)
    with Ledger(batch.out, resume=batch.resume) as ledger:
        folder.clear_up(batch.out)
        try:
            keys = _do(records, batch, tally, ledger)
        finally:
            folder.clear_up(batch.out)
        known = _last_lines(ledger)
        try:
            index.write(
                [(r, known[_which(keys.of(r))]) for r in records], batch.out, own_costs=batch.settings.costs is not None
            )
            tally.index = batch.out / index.PAGE
        except OSError as failed:
            what = f"cannot be written: {failed.strerror or failed}"
            tally.faults.append(Fault(str(batch.out / index.PAGE), "", what, "make room, then run again with --resume"))


def _do(records: Sequence[Record | Rejected], batch: Batch, tally: Tally, ledger: Ledger) -> "_Keys":
    """Do what is not over yet; once this returns or raises, no process of it is left."""
    kernel = batch.settings.kernel_for(sum(isinstance(r, Record) for r in records))
    with _nursery(batch, kernel) as nursery:
        keys = _Keys(batch.settings)
        known, made = _last_lines(ledger), _made_last(ledger)
        todo = [r for r in records if not _over(known.get(_which(keys.of(r))), keys.of(r), made, batch.out)]
        tally.skipped = len(records) - len(todo)
        with Progress(len(todo)) as progress, closing(_outcomes(todo, batch, kernel, nursery)) as outcomes:
            for record, outcome in outcomes:
                tally.states[outcome.state] += 1  # first: who sees the line may stop the run
                tally.faults += outcome.faults
                ledger.append(keys.of(record) | _told(outcome))
                progress.step(run=outcome.state != "rejected")
    return keys


def _last_lines(ledger: Ledger) -> dict[tuple[Any, ...], dict[str, Any]]:
    return {_which(line): line for line in ledger.lines()}


def _made_last(ledger: Ledger) -> dict[str, dict[str, Any]]:
    """Folder of a claim → the line of the run that made it last, whatever file or settings that was of."""
    return {
        folder_name(line["claim"]): line
        for line in ledger.lines()
        if line["state"] == "done" and isinstance(line.get("claim"), str)
    }


def _which(line: Mapping[str, Any]) -> tuple[Any, ...]:
    return line.get("claim"), line["file"], line["record"]


def run_one(record: Record, batch: Batch) -> Outcome:
    """One record without index. Where a batch keeps its ledger, it is noted there: its folder is no longer that of the
    batch. Raises InUseError while another run writes there."""
    batch.out.mkdir(parents=True, exist_ok=True)
    with Ledger(batch.out, resume=True) if (batch.out / NAME).is_file() else nullcontext() as ledger:
        folder.clear_up(batch.out)
        kernel = batch.settings.kernel_for(1)
        with _nursery(batch, kernel) as nursery:
            ((_, outcome),) = _outcomes([record], batch, kernel, nursery)
        if ledger is not None:
            ledger.append(_Keys(batch.settings).of(record) | _told(outcome))
    return outcome


def _outcomes(
    todo: Sequence[Record | Rejected], batch: Batch, kernel: KernelName, nursery: str
) -> Generator[tuple[Record | Rejected, Outcome]]:
    for record in todo:
        if isinstance(record, Rejected):
            yield record, Outcome("rejected", 0.0, record.faults)
    items = {_item(r, batch, kernel, nursery): r for r in todo if isinstance(r, Record)}
    with closing(_run(list(items), batch)) as results:
        for item, result in results:
            yield items[item], result if isinstance(result, Outcome) else _lost(item, result, batch.timeout)


@contextmanager
def _nursery(batch: Batch, kernel: KernelName) -> Generator[str]:
    """Where the nursery of the run answers, started first, as it takes a second; '' where none is wanted here."""
    if kernel == "stock" or batch.scheduler:
        yield ""
        return
    if batch.nursery:
        yield batch.nursery
        return
    with Nursery(batch.settings.parameters()) as nursery:
        yield nursery.place


def _run(items: list[Item], batch: Batch) -> Generator[tuple[Item, Outcome | Lost]]:
    if batch.scheduler and items:
        from stripdown.batch import cluster

        return cluster.run(items, batch.scheduler, batch.timeout)
    workers = max(1, min(batch.workers, len(items)))
    return Lanes(do, workers=workers, timeout=batch.timeout, ready=get_ready).run(items)


def _item(record: Record, batch: Batch, kernel: KernelName, nursery: str) -> Item:
    return Item(
        claim=record.claim,
        file=record.file,
        path=str(((batch.base or Path()) / record.file).resolve()),
        out=str(batch.out.resolve()),
        settings=batch.settings,
        kernel=kernel,
        nursery=nursery,
    )


def _lost(item: Item, how: Lost, timeout: float) -> Outcome:
    if how == "timed_out":
        what = f"took longer than {timeout:g} s and was ended"
        fix = "look at the record, or give more time with --timeout; then run again with --resume"
        return Outcome("timed_out", timeout, (Fault(item.file, "", what, fix),))
    fix = "look whether the machine ran out of memory; then run again with --resume"
    return Outcome("failed", 0.0, (Fault(item.file, "", "its worker process ended without an answer", fix),))


def _told(outcome: Outcome) -> dict[str, Any]:
    return {"state": outcome.state, "seconds": outcome.seconds, "faults": [f.as_json() for f in outcome.faults]}


def _over(
    line: Mapping[str, Any] | None, key: Mapping[str, Any], made: Mapping[str, Mapping[str, Any]], out: Path
) -> bool:
    """Whether the ledger says that this very record was done in this very way, and its files are there and are those.

    `made`: folder → the line of the run that made it last.
    """
    if line is None or any(line.get(name) != value for name, value in key.items()):
        return False
    if line["state"] != "done":
        return bool(line["state"] == "rejected")
    name = folder_name(line["claim"])
    return _way(made[name]) == _way(line) and all((out / name / file).is_file() for file in FILES)


def _way(line: Mapping[str, Any]) -> tuple[Any, ...]:
    """What a folder was made from, and by what."""
    return (*_which(line), *(line.get(name) for name in ("knowledge", "version", "settings")))


class _Keys:
    """What a ledger line says of a record: any change of these means that it is run again."""

    def __init__(self, settings: Settings) -> None:
        self._common = {"knowledge": settings.knowledge_hash(), "version": __version__, "settings": settings.digest()}

    def of(self, record: Record | Rejected) -> dict[str, Any]:
        """Claim, file, hash of the record and its pictures, and what all records of the run share."""
        return {"claim": record.claim, "file": record.file, "record": _digest(record)} | self._common


def _digest(record: Record | Rejected) -> str:
    if isinstance(record, Rejected):
        told = repr(record.faults).encode()
    else:
        told = record.digest.encode()
        for photo in sorted({p for o in record.observations for p in o.photos}):
            path = Path(record.folder) / photo
            told += path.read_bytes() if path.is_file() else b"missing"
    return f"sha256:{hashlib.sha256(told).hexdigest()}"
