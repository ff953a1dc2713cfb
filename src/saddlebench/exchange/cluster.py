"""Work spread over machines by dask.distributed: the optional extra `cluster`.

A scheduler and workers are started by the person (docs/how-to/many-machines.md); this connects to them. What
a worker had in hand when it died is done again by another. The functions sent are the ones that run locally,
so the results are the same in every digit wherever processor and libraries are the same.
"""

import pickle
from collections.abc import Callable, Iterator, Sequence
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from saddlebench import __version__
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem

if TYPE_CHECKING:
    from distributed import Client

CONNECT_SECONDS = 10
MOST_TRIES = 5
"""So often a piece of work that raised is tried on other workers."""


class Cluster:
    """A pool of workers on other machines: `with Cluster("tcp://10.0.0.5:8786") as pool`.

    Raises
    ------
    InputProblemsError
        If the extra is not installed, nothing answers at the address, no worker is there, or a worker runs
        another version of this program.
    """

    def __init__(self, address: str) -> None:
        self._client = _connected(address)
        problems = _version_problems(self._client, address)
        if problems:
            self._client.close()
            raise InputProblemsError(problems)

    @property
    def workers(self) -> int:
        """How many worker threads there are now."""
        return int(sum(self._client.nthreads().values()))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._client.close()

    def run(
        self, work: Callable[[Any, Any], Any], shared: Any, items: Sequence[Any]
    ) -> Iterator[tuple[int, Any]]:
        """Yield `(number of the item, work(shared, item))` as they are done."""
        from distributed import as_completed  # noqa: PLC0415 - an optional extra

        if not items:
            return
        # made by a task rather than scattered: if every worker that holds it dies, it can be made again
        held = self._client.submit(pickle.loads, pickle.dumps(shared), pure=True)
        futures = [self._client.submit(work, held, item, pure=False, retries=MOST_TRIES) for item in items]
        numbers = {future.key: number for number, future in enumerate(futures)}
        try:
            for future in as_completed(futures, loop=self._client.loop):
                yield numbers[future.key], future.result()
        finally:
            self._client.cancel(futures)


def _connected(address: str) -> "Client":
    where = Where(field="cluster")
    try:
        from distributed import Client  # noqa: PLC0415 - an optional extra
    except ImportError as error:
        cure = "Install it: pip install 'saddlebench[cluster]'."
        raise input_problem("the part for many machines is not installed", cure, where) from error
    try:
        return Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        cure = "Start the scheduler first, and give the address it prints, such as tcp://10.0.0.5:8786."
        what = f"nothing answers at {address}"
        raise input_problem(what, cure, where) from error


def _version_problems(client: "Client", address: str) -> list[Problem]:
    where = Where(field="cluster")
    found: dict[str, Any] = client.run(_version, on_error="return")
    if not found:
        cure = f"Start at least one: dask worker {address}"
        return [Problem(what="the scheduler has no workers", cure=cure, where=where)]
    return [
        Problem(
            what=f"the worker {name} does not run saddlebench {__version__} ({version})",
            cure="Install the same version on every machine.",
            where=where,
        )
        for name, version in sorted(found.items())
        if version != __version__
    ]


def _version() -> str:
    return __version__
