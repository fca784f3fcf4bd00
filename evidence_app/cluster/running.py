"""A run over many packages: a Dask cluster, what is given to it, and the answers as they come."""

import logging
import os
import socket
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from itertools import islice
from typing import TypeVar

from distributed import Client, Future, as_completed
from distributed.comm import get_address_host_port

from evidence_app.cluster.objects import Listed
from evidence_app.errors import EvidenceError
from evidence_app.sentence import sentence

_AT_ONCE = 256  # packages that the scheduler knows of: its memory must not grow with their number
_CONNECTING_S = 10
T = TypeVar("T")


def answers(
    scheduler: str | None,
    workers: int | None,
    packages: Sequence[Listed],
    work: Callable[[Listed], T | EvidenceError],
) -> Iterator[tuple[Listed, T | EvidenceError]]:
    """What ``work`` gives for each package, as it comes: from the Dask cluster at ``scheduler``, or from
    one with ``workers`` processes on this computer, if left out one for each core.

    A package whose worker went is given to another one; after as many times as the scheduler
    allows, it counts as unreadable. What ``work`` raises is raised here.
    """
    left, of = iter(packages), dict[Future, Listed]()
    with _cluster(scheduler, min(workers or os.cpu_count() or 1, len(packages))) as client:

        def given(count: int) -> list[Future]:
            tasks = {client.submit(work, each, pure=False): each for each in islice(left, count)}
            of.update(tasks)
            return list(tasks)

        going = as_completed(given(_AT_ONCE), loop=client.loop)
        for future in going:
            yield (package := of.pop(future)), _answer(future, package)
            going.update(given(1))


@contextmanager
def _cluster(scheduler: str | None, workers: int) -> Iterator[Client]:
    """A client of the cluster. Raises EvidenceError when no scheduler answers or none works for it."""
    for name in ("distributed", "distributed.client"):  # what matters is raised
        logging.getLogger(name).setLevel(logging.CRITICAL)
    # Threads are enough here: each has a process beside it, which does the work.
    here = {"n_workers": 1, "threads_per_worker": workers, "processes": False}
    place = {"address": scheduler} if scheduler else here | {"dashboard_address": "127.0.0.1:0"}
    what, remedy = sentence("no scheduler answers here"), sentence("start one with: dask scheduler")
    with ExitStack() as opened:
        try:
            if scheduler:  # the library would try for as long as it may, and complain at the end
                socket.create_connection(get_address_host_port(scheduler), _CONNECTING_S).close()
            client = opened.enter_context(Client(**place, timeout=_CONNECTING_S, set_as_default=False))
            what = sentence("this scheduler has no workers")
            remedy = sentence("start one with: dask worker {scheduler}", scheduler=scheduler)
            client.wait_for_workers(1, timeout=_CONNECTING_S)
        except (OSError, ValueError) as error:
            raise EvidenceError(what, where=scheduler or "", remedy=remedy) from error
        yield client


def _answer(future: Future, package: Listed):
    try:
        return future.result()  # what was lost with its worker is waited for: it is made again
    except EvidenceError:
        raise
    except Exception as error:
        kind = type(error).__name__
    remedy = sentence("check it alone, or install this version of evidence-app[cluster] on every worker")
    what = sentence("the cluster could not check it ({kind})", kind=kind)
    return EvidenceError(what, where=package.address, remedy=remedy)
