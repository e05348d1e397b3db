"""Compiled inner loops of the planner: free functions on arrays.

Names that all kernels share: ``k`` is the problem as
:class:`counterpoise.reasoning.problem.Arrays`, ``w`` (H,) a belief that sums to one; ``done``,
``tried`` and ``opened`` are the checks done, the repairs tried and the panels opened, as bits;
``s`` is the workspace of the exact search, ``work`` that of the policies. Frames stand for
recursion: no kernel calls itself, cached that crashes.

The compiler's cache on disk watches only the file of the function called from outside, not the
files that one draws on. So each file that calls kernels of another holds the digest of those files
in ``SOURCE_DIGEST``; a test keeps it true (and says what it should be), so that no stale code runs.
"""
