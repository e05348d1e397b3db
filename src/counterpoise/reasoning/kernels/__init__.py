"""Compiled inner loops of the planner: free functions on arrays.

The compiler's cache on disk watches only the file of the function that is called from outside, not the files that one
draws on. So each file that calls kernels of another holds the digest of those files in ``SOURCE_DIGEST``; a test keeps it
true (and says what it should be), so that no stale code is ever run. No kernel calls itself: cached, that crashes.
"""
