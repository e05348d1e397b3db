"""The thread in the background: newest first, once for each name, behind whoever waits."""

import threading
import time

from counterpoise.workshop.services.background.worker import MOST_WAITING, Worker


def finished(worker):
    end = time.monotonic() + 20.0
    while worker._working and time.monotonic() < end:
        time.sleep(0.005)
    assert not worker._working


def test_the_newest_goes_first_and_only_so_many_wait():
    worker, done, begun, go = Worker(), [], threading.Event(), threading.Event()
    worker.soon("first", lambda: (begun.set(), go.wait(20)))
    assert begun.wait(20)
    for number in range(MOST_WAITING + 4):
        worker.soon(number, lambda number=number: done.append(number))
    worker.soon(5, lambda: done.append("five anew"))
    assert worker.interrupted
    go.set()
    finished(worker)
    newest = list(range(MOST_WAITING + 3, 3, -1))
    newest.remove(5)
    assert done == ["five anew", *newest]


def test_idle_work_goes_on_until_there_is_none_and_a_failure_stops_nothing():
    worker, left, done = Worker(), [1, 2, 3], []
    worker.idle = lambda: bool(left) and (done.append(left.pop()), True)[1]
    worker.soon("fails", lambda: 1 / 0)
    finished(worker)
    assert done == [3, 2, 1]
    left.append(4)
    worker.wake()
    finished(worker)
    assert done == [3, 2, 1, 4]


def test_nothing_is_begun_while_somebody_waits():
    worker, busy, done = Worker(), threading.Event(), threading.Event()
    busy.set()
    worker.busy = busy.is_set
    worker.soon("later", done.set)
    assert not done.wait(0.1)
    busy.clear()
    assert done.wait(20)
