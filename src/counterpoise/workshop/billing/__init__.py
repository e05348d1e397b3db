"""Costs, quotes, guarantees and the ledger of jobs."""
