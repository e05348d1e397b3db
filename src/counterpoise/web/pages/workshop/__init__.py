"""Routes of the workshop as a whole: jobs, stock, prices, ledger, settings."""
