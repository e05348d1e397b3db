"""Each page of a job reads the job once: what it shows belongs together."""

import pytest

PAGES = (
    "", "/evidence", "/steps", "/decision", "/close", "/estimate", "/quote", "/quote.pdf", "/sheet",
    "/sheet.pdf", "/parts", "/labels.pdf", "/measure", "/measure/level", "/recording", "/record",
    "/machine",
)  # fmt: skip
TWINS = (
    "", "/evidence", "/steps", "/decision", "/close", "/estimate", "/quote", "/sheet", "/parts",
    "/measure", "/measure/level", "/recording", "/record", "/machine",
)  # fmt: skip


class Counting:
    """Stands before the store's reading of jobs and settings and counts the calls."""

    def __init__(self, store, monkeypatch):
        self.calls = {"jobs": 0, "settings": 0}
        for noun in self.calls:
            reader = getattr(store, noun)
            monkeypatch.setattr(reader, "get", self._counted(noun, reader.get))

    def _counted(self, noun, get):
        def counted(*given):
            self.calls[noun] += 1
            return get(*given)

        return counted


@pytest.fixture
def counting(workshop, monkeypatch):
    return Counting(workshop.store, monkeypatch)


@pytest.mark.parametrize("path", PAGES)
def test_a_page_reads_its_job_once(client, number, counting, path):
    answer = client.get(f"/jobs/{number}{path}")
    assert answer.status_code == 200, answer.text[:500]
    assert counting.calls == {"jobs": 1, "settings": 1}


@pytest.mark.parametrize("path", TWINS)
def test_its_json_reads_it_at_most_once(client, number, counting, path):
    assert client.get(f"/api/jobs/{number}{path}").status_code == 200
    assert counting.calls["jobs"] <= 1
    assert counting.calls["settings"] <= 1
