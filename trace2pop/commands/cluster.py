"""Cards made by the workers of a Dask cluster, on as many machines as it has."""

from collections.abc import Iterator, Sequence

from trace2pop.commands.job import Job, lost, run_job
from trace2pop.commands.summary import Outcome
from trace2pop.errors import UsageError

RETRIES = 2
_PATIENCE_S = 10


def run_there(jobs: Sequence[Job], scheduler: str) -> Iterator[Outcome]:
    """Yield the outcome of each job as it comes; a dead worker's card goes to another worker.

    Workers need this program installed, and the folders at the same paths.

    Raises:
        UsageError: where the package is missing or no scheduler answers.
    """
    try:
        from distributed import Client, as_completed
    except ImportError:
        raise UsageError(
            "--scheduler needs the package distributed", 'pip install "trace2pop[cluster]"'
        ) from None
    try:
        client = Client(scheduler, timeout=_PATIENCE_S)
    except (OSError, ValueError) as error:
        raise UsageError(
            f"no Dask scheduler answers at {scheduler} ({error})",
            "start one with: dask scheduler, and its workers with: dask worker",
        ) from None
    with client:
        futures = client.map(run_job, jobs, retries=RETRIES, pure=False)
        by_key = {future.key: job for future, job in zip(futures, jobs, strict=True)}
        for future in as_completed(futures):
            failed = future.status != "finished"
            outcome: Outcome = (
                lost(by_key[future.key], "its workers died") if failed else future.result()
            )
            future.release()
            yield outcome
