"""The most memory that a call takes, in a process of its own.

Within the tests' process the threads of servers that other tests have started are counted too: a
bound of 15 MB on a call that takes 2 was once passed by them.
"""

import subprocess
import sys

_MEASURED = """
import tracemalloc
{before}
tracemalloc.start()
{call}
print(tracemalloc.get_traced_memory()[1])
"""


def peak_bytes(before: str, call: str) -> int:
    """Bytes that the code ``call`` takes at most, beyond what the code ``before`` left behind."""
    code = _MEASURED.format(before=before, call=call)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return int(done.stdout.splitlines()[-1])
