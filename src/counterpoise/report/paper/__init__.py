"""Documents to print or send: job sheet, quote and labels as HTML and PDF."""
