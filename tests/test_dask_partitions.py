"""The function that weighs rows, mapped over the partitions of another's data frame, gives the same answers."""

import dask
import dask.dataframe as dd
import numpy as np
import pandas as pd
import pytest
from invented_jobs import invented_jobs

from decide.load.jobs.cases import JobCases
from decide.load.tables.tables import tables
from decide.shop.jobs import Jobs
from decide.shop.weigh_jobs import weigh_jobs

COLUMNS = ("row", "kind", "age", "fault", "quote", "fee", "fee_credited")
JOBS = invented_jobs(10_000, seed=31)
CASES = JobCases("US", tables())


def jobs_in(frame: pd.DataFrame) -> Jobs:
    """The jobs of a part of a frame; what weighing does not look at stands as in the book that they come from."""
    some = JOBS.take(frame["row"].to_numpy() - 2)
    assert np.array_equal(some.age, frame["age"].to_numpy())
    return some


def weighed(frame: pd.DataFrame) -> pd.DataFrame:
    found = weigh_jobs(jobs_in(frame), CASES.template)
    return pd.DataFrame(
        {"limit": found.repair_limit, "advantage": found.advantage, "verdict": found.verdict}, index=frame.index
    )


@pytest.mark.slow
def test_rows_weighed_in_partitions_are_those_weighed_at_once() -> None:
    frame = pd.DataFrame({name: getattr(JOBS, name) for name in COLUMNS})
    whole = weighed(frame)
    empty = pd.DataFrame({"limit": [0.0], "advantage": [0.0], "verdict": np.zeros(1, np.int8)}).iloc[:0]
    parts = dd.from_pandas(frame, npartitions=4).map_partitions(weighed, meta=empty)
    assert parts.npartitions == 4
    with dask.config.set(scheduler="synchronous"):
        together = parts.compute()
    pd.testing.assert_frame_equal(together, whole, rtol=1e-12, atol=1e-9)
