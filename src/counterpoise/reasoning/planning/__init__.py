"""Plan what to do next: exact, look-ahead and timed solvers, and what following a plan brings."""
