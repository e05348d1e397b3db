"""Pools drawn and counted: by DuckDB at once, in parts, on a Dask cluster, and by pandas."""

import distributed
import pandas as pd
import pytest

from counterpoise.errors import InputError
from counterpoise.workshop.studies.pools.counted import added, counts, figures, figures_on_cluster
from counterpoise.workshop.studies.pools.drawn import PoolLaw, draw

LAW = PoolLaw(workshops=12, jobs=20_000, families=2, faults=8, seed=5)


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    return draw(LAW, tmp_path_factory.mktemp("pool"), in_a_file=4)


@pytest.fixture(scope="module")
def whole(files):
    return figures(files)


def by_pandas(files):
    jobs = pd.concat([pd.read_parquet(file) for file in files])
    known = jobs[jobs.fault >= 0]
    of = ["workshop", "family"]
    causes = known.groupby([*of, "fault"]).size().rename("yes").reset_index()
    causes = causes.merge(known.groupby(of).size().rename("of").reset_index())
    rows = known[known.check >= 0].groupby([*of, "check", "fault"]).shown.agg(["sum", "size"])
    cures = known[known.held >= 0].groupby([*of, "fault"]).held.agg(["sum", "size"])
    out = {(w, f, 0, a, 0): (y, n) for w, f, a, y, n in causes.itertuples(index=False)}
    out |= {(w, f, 1, a, b): (y, n) for (w, f, a, b), y, n in rows.itertuples()}
    return out | {(w, f, 2, a, a): (y, n) for (w, f, a), y, n in cures.itertuples()}


def test_the_counts_are_those_of_pandas_to_the_last_one(files, whole):
    ours = {tuple(r[:5]): tuple(r[5:]) for r in zip(*whole.to_pydict().values(), strict=True)}
    assert ours == by_pandas(files)
    assert len(ours) > 1000


def test_a_cluster_gives_the_same_and_so_does_any_split(files, whole, tmp_path):
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        assert figures_on_cluster(files, client).equals(whole)
    # the same pool in other files, none of which holds a whole workshop's neighbours
    other = draw(LAW, tmp_path, in_a_file=5)
    assert added([counts(other[1:]), counts(other[:1])]).equals(whole)
    # and files in which the jobs of one workshop are torn apart
    torn = []
    for n, part in enumerate(
        pd.concat(map(pd.read_parquet, files))
        .sample(frac=1, random_state=1)
        .pipe(lambda t: [t[:7000], t[7000:]])
    ):
        torn.append(tmp_path / f"torn{n}.parquet")
        part.to_parquet(torn[-1], index=False)
    assert added([counts([each]) for each in torn]).equals(whole)
    assert figures(files, memory_mb=64, threads=1).equals(whole)


def test_a_pool_is_that_of_its_law_and_seed(files, whole, tmp_path):
    assert LAW.sizes().sum() == LAW.jobs
    assert sum(len(pd.read_parquet(file)) for file in files) == LAW.jobs
    again = draw(LAW, tmp_path / "again", in_a_file=4)
    assert [f.read_bytes() for f in again] == [f.read_bytes() for f in files]
    table = whole.to_pandas()
    causes = table[table.kind == 0]
    of = causes.groupby(["workshop", "family"]).yes.sum()
    total = causes.groupby(["workshop", "family"])["of"].first()
    assert (of == total).all()
    # eight in ten were known; repairs held and checks showed about as often as the laws say
    assert of.sum() / LAW.jobs == pytest.approx(0.8, abs=0.02)
    cures = table[table.kind == 2]
    assert cures.yes.sum() / cures["of"].sum() == pytest.approx(0.9, abs=0.03)
    other = draw(PoolLaw(12, 20_000, 2, 8, seed=6), tmp_path / "other")
    assert not figures(other).equals(whole)


def test_what_no_pool_can_be_is_refused():
    with pytest.raises(InputError, match="jobs is 0"):
        PoolLaw(jobs=0)
    with pytest.raises(InputError, match="At most"):
        PoolLaw(faults=200)
